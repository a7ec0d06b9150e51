#!/bin/bash
# test.sh DEB WORK: installs the package on a fresh Debian, starts its service under a real service
# manager (a user-mode kernel boots that Debian), feeds it, upgrades, removes and purges it. Needs:
# root, debootstrap, user-mode-linux. The Debian is kept in WORK/base for the next time.
set -eu
deb=$1 work=$2 here=$(cd "$(dirname "$0")" && pwd) pages=$(realpath docs)
base=$work/base root=$work/root
say() { echo "== $*"; }

if [ ! -e "$base/whole" ]; then
    say "a fresh Debian"
    mirror=$(apt-get indextargets --format '$(SITE) $(CODENAME) $(ORIGIN)' 'Created-By: Packages' |
        awk '$3 == "Debian" && $2 == "bookworm" { print $1; exit }')
    rm -rf "$base"
    mkdir -p "$base"
    debootstrap --variant=minbase --include=systemd,systemd-sysv,kmod,iproute2,procps,libncursesw6,libzstd1,prometheus-node-exporter \
        bookworm "$base" "$mirror" >"$work/debootstrap.log"
    touch "$base/whole"
fi
rm -rf "$root"
cp -a "$base" "$root"
in_root() { # with a /proc that goes when the command ends
    unshare --mount sh -c 'mount -t proc proc "$0/proc" && exec chroot "$0" "$@"' "$root" \
        /usr/bin/env DEBIAN_FRONTEND=noninteractive PATH=/usr/sbin:/usr/bin:/sbin:/bin "$@"
}

say "install, as docs/unattended.md says"
mkdir -p "$root/build/deb"
cp "$deb" "$root/build/deb/"
in_root $("$here/commands.sh" "$pages/unattended.md" "As a service" | grep 'install ./build')
in_root stokehold --version
in_root getent passwd stokehold
in_root systemctl is-enabled stokehold
in_root stokehold config check /etc/stokehold/stokehold.conf
in_root dpkg --verify stokehold
[ "$(in_root stat -c '%U %a' /var/lib/stokehold)" = "stokehold 750" ]

say "the service, under its service manager"
mkdir -p "$root/modules"
cp -r /usr/lib/uml/modules/* "$root/modules/"
cp "$here/commands.sh" "$pages"/unattended.md "$pages"/fleet.md "$root"
cat >"$root/etc/systemd/system/guest.service" <<'UNIT'
[Unit]
After=multi-user.target
[Service]
Type=oneshot
ExecStart=/bin/bash /guest.sh
ExecStopPost=/bin/systemctl poweroff --force --force
[Install]
WantedBy=multi-user.target
UNIT
# The guest's disk knows no owners but root: what the service owns lies in memory, and is kept.
echo 'tmpfs /var/lib/stokehold tmpfs mode=0750 0 0' >"$root/etc/fstab"
in_root systemctl enable guest.service
in_root systemctl mask systemd-networkd-wait-online.service getty@tty1.service console-getty.service \
    systemd-udevd.service systemd-timesyncd.service
uml=$(mktemp -d)
trap 'rm -rf "$uml"' EXIT
boot() { # SCRIPT: within the guest, once its service manager has started everything
    cp "$here/$1" "$root/guest.sh"
    rm -f "$root/result"
    timeout -k 5 600 linux.uml mem=512M root=/dev/root rootfstype=hostfs rootflags="$(cd "$root" && pwd)" rw \
        init=/lib/systemd/systemd umid=package uml_dir="$uml" quiet initcall_blacklist=raid6_select_algo \
        systemd.unified_cgroup_hierarchy=1 con=null con0=null,fd:1 ssl=null ssl0=null \
        </dev/null >"$work/console" 2>&1 || :
    tail -1 "$root/result" | grep -qx good && return
    tail -40 "$work/console" || :
    cat "$root/result" || :
    echo "the service does not do as it should"
    exit 1
}
boot guest.sh
grep 'exposure' "$root/result" || :

cp -r "$root"/kept/. "$root/var/lib/stokehold/"

say upgrade
rm -rf "$work/next"
dpkg-deb -R "$deb" "$work/next"
sed -i 's/^Version: \(.*\)/Version: \1+next/' "$work/next/DEBIAN/control"
dpkg-deb --root-owner-group -b "$work/next" "$root/stokehold-next.deb" >/dev/null
in_root dpkg -i /stokehold-next.deb
in_root dpkg-query -W -f '${Version}\n' stokehold | grep next
grep -q 'Tern Point' "$root/etc/stokehold/stokehold.conf" # the owner's configuration stays
ls "$root"/var/lib/stokehold/record/alerts-*.jsonl

say "remove, purge"
in_root dpkg -r stokehold
[ ! -e "$root/usr/bin/stokehold" ]
[ -e "$root/etc/stokehold/stokehold.conf" ]
in_root dpkg -P stokehold
[ ! -e "$root/etc/stokehold" ]
[ ! -e "$root/var/lib/stokehold/state" ]
ls "$root"/var/lib/stokehold/record/alerts-*.jsonl # it may be evidence

say "without the package, as docs/unattended.md says"
rm -r "$root/etc/systemd/system/stokehold.service.d" # of the package's guest
make -s install DESTDIR="$(cd "$root" && pwd)"
mkdir -p "$root/clone/build" "$root/var/lib/stokehold"
cp build/stokehold "$root/clone/build/"
cp -r configs "$root/clone/"
boot guest-hand.sh
rm -rf "$root"
say good
