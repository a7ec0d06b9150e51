#!/bin/sh
# build.sh VERSION OUT [ARCH]: builds the Debian package from the tree into OUT. ARCH is Debian's
# name of another processor (arm64, armhf): Debian's own cross compiler, and ncurses, zstd and zlib
# of that processor unpacked beside it, as a second architecture cannot be added everywhere.
# Needs: debhelper, and gcc-aarch64-linux-gnu or gcc-arm-linux-gnueabihf.
set -eu
version=$1 out=$2 arch=${3:-} fetch=$(dirname "$0")/fetch.sh
native=$(dpkg --print-architecture)
[ "$arch" = "$native" ] && arch=
work=$out/work${arch:+-$arch}
tree=$work/stokehold-$version
rm -rf "$work"
mkdir -p "$tree"
cp -r Makefile README.md LICENSE src themes configs docs "$tree"
mkdir -p "$tree/tests/tools"
cp -r configs/debian "$tree/debian"
rm -r "$tree/configs/debian"
sed -i "s/@VERSION@/$version/" "$tree/debian/changelog"

cross=
if [ -n "$arch" ]; then
    work=$(cd "$work" && pwd)
    "$fetch" "$arch" "$work" libncurses-dev libncursesw6 libtinfo6 libzstd-dev libzstd1 zlib1g-dev zlib1g
    triplet=$(dpkg-architecture -a"$arch" -qDEB_HOST_MULTIARCH 2>/dev/null)
    CROSS_CFLAGS="-isystem $work/root/usr/include -isystem $work/root/usr/include/$triplet"
    CROSS_LDFLAGS="-L$work/root/usr/lib/$triplet -L$work/root/lib/$triplet"
    CROSS_LDFLAGS="$CROSS_LDFLAGS -Wl,-rpath-link,$work/root/usr/lib/$triplet:$work/root/lib/$triplet"
    CROSS_DEPENDS="libc6 (>= 2.36), libncursesw6 (>= 6.1), libtinfo6 (>= 6), libzstd1 (>= 1.5.2), zlib1g (>= 1:1.2.6)"
    export CROSS_CFLAGS CROSS_LDFLAGS CROSS_DEPENDS
    export CONFIG_SITE=/etc/dpkg-cross/cross-config.$arch
    cross="-a$arch -d"
fi
# shellcheck disable=SC2086 # words
(cd "$tree" && dpkg-buildpackage -b -us -uc $cross) >"$work.log" 2>&1 || {
    tail -40 "$work.log" >&2
    exit 1
}
mv "$work"/*.deb "$out"
ls "$out"/*.deb
