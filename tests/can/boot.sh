#!/bin/bash
# boot.sh [-t SECONDS] COMMAND [ARGUMENT...]
# Runs COMMAND as root on a real kernel with SocketCAN, whatever the kernel outside: Debian's
# user-mode-linux boots in about two seconds on the host's own root file system (read only, the
# current directory writable), with the interfaces vcan0 and vcan1. Ends with COMMAND's status;
# 124: time limit; 125: the guest gave no status.
# Needs: apt-get install --no-install-recommends user-mode-linux busybox-static can-utils iproute2
set -u
limit=300
[ "${1:-}" = -t ] && { limit=$2; shift 2; }
here=$(cd "$(dirname "$0")" && pwd)
for need in linux.uml busybox ip candump; do
    command -v $need >/dev/null || { echo "boot.sh: $need is missing: see its first lines" >&2; exit 125; }
done
work=$(mktemp -d) || exit 125
cleanup() { rm -rf "$work"; }
trap cleanup EXIT
printf '%q ' "$@" >"$work/command"
export -p | grep -E ' (PATH|LANG|LC_ALL|UBSAN_OPTIONS|STOKEHOLD_[A-Z_]*)=' >"$work/environment"

# `timeout` makes itself the leader of a process group; what a guest that was killed leaves behind
# is in that group and would hold the pipe open.
run() {
    timeout -k 5 "$limit" linux.uml mem=256M root=/dev/root rootfstype=hostfs rootflags=/ ro \
        init="$here/init.sh" guest_work="$work" guest_dir="$PWD" \
        umid=guest uml_dir="$work" quiet pty.legacy_count=0 initcall_blacklist=raid6_select_algo \
        con=null con0=null,fd:1 ssl=null ssl0=null,fd:3 </dev/null 3>&1 >"$work/console" 2>&1 &
    local group=$!
    wait $group
    echo $? >"$work/ended"
    kill -KILL -- -$group 2>/dev/null
}
# A pipe of its own: UML makes its descriptors non-blocking.
{ run; } 2>/dev/null | cat
case $(cat "$work/ended") in
124 | 137) echo "boot.sh: time limit of $limit s" >&2; exit 124 ;;
esac
# The kernel itself may abort behind "System halted"; the status in the file is what counts.
[ -s "$work/status" ] && exit "$(cat "$work/status")"
echo "boot.sh: the guest gave no status; its console:" >&2
tail -40 "$work/console" >&2
exit 125
