#!/bin/bash
# The first process of the guest that boot.sh starts; guest_work and guest_dir come from its
# command line. Not for use by hand.
mount -t proc proc /proc
mount -t sysfs sys /sys
mkdir -p /dev/pts /dev/shm
mount -t devpts -o ptmxmode=666,mode=620 devpts /dev/pts
mount -t tmpfs tmpfs /dev/shm
mount -t tmpfs -o mode=755 tmpfs /run
ln -s /proc/self/fd /dev/fd
ln -s /proc/self/fd/0 /dev/stdin
ln -s /proc/self/fd/1 /dev/stdout
ln -s /proc/self/fd/2 /dev/stderr
mount -t hostfs -o "$guest_work" none "$guest_work"
mount -t hostfs -o "$guest_dir" none "$guest_dir"
. "$guest_work/environment"
export HOME=/run TMPDIR=/run
modules=$(echo /usr/lib/uml/modules/*/kernel)
# vcan and slcan stand on can-dev here; there is no modprobe on a minimal host.
for module in net/can/can net/can/can-raw net/can/j1939/can-j1939 drivers/net/can/dev/can-dev \
    drivers/net/can/vcan drivers/net/can/slcan/slcan; do
    busybox insmod "$modules/$module.ko"
done
ip -batch - <<'LINKS'
link set lo up
link add dev vcan0 type vcan
link set vcan0 up
link add dev vcan1 type vcan
link set vcan1 up
LINKS
cd "$guest_dir" || exit 1
stty -F /dev/ttyS0 raw
# The command sees a pipe, no terminal; what it leaves running is ended, or cat would wait for it.
exec 4> >(exec cat >/dev/ttyS0)
copier=$!
bash -c "$(cat "$guest_work/command")" </dev/null >&4 2>&1 4>&-
echo $? >"$guest_work/status"
exec 4>&-
for process in /proc/[0-9]*; do
    process=${process#/proc/}
    [ "$process" -gt 1 ] && [ "$process" != "$copier" ] && [ -e "/proc/$process/exe" ] &&
        kill -KILL "$process"
done
wait "$copier"
sync
exec busybox poweroff -f
