#!/bin/sh
# fetch.sh ARCH DIR PACKAGE...: Debian packages of another processor, unpacked into DIR/root and not
# installed, since a second architecture cannot be added everywhere. Their lists lie in a place of
# their own.
set -eu
arch=$1
mkdir -p "$2"
dir=$(cd "$2" && pwd)
shift 2
apt=$dir/apt
mkdir -p "$apt/lists/partial" "$apt/archives/partial" "$dir/root"
: >"$apt/status"
get() {
    apt-get -o "APT::Architecture=$arch" -o "APT::Architectures::=$arch" -o "Dir::State::lists=$apt/lists" \
        -o "Dir::State::status=$apt/status" -o "Dir::Cache=$apt" -o APT::Sandbox::User=root -qq "$@"
}
# a mirror whose updates are being copied has the packages themselves all the same
get update 2>"$apt/update.log" || :
(cd "$apt/archives" && get download "$@")
for deb in "$apt"/archives/*.deb; do
    dpkg-deb -x "$deb" "$dir/root"
done
