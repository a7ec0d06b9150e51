#!/bin/bash
# Within the guest of test.sh: the commands of docs/unattended.md from its first to its last, as they
# stand there, for a watch without the package. `make install` has been run, by the machine that has a
# compiler; CAN, the trip and the programs of the hooks are ours. The last line of /result is "good".
exec >/result 2>&1
set -eux
fail() { systemctl status stokehold --no-pager -l; journalctl -u stokehold --no-pager | tail -40; exit 1; }
trap fail ERR
export PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin TERM=xterm TZ=UTC LC_ALL=C.UTF-8
page=/unattended.md
cd /clone
await() { # COMMAND...: until it succeeds; only a failure takes so long
    for _ in $(seq 300); do "$@" >/dev/null 2>&1 && return 0; sleep 0.1; done
    echo "did not come: $*"; return 1
}
journal() { journalctl -u stokehold --no-pager; }

# The hooks of the page, with programs that only say they were run; the blower's script is the page's.
printf '#!/bin/sh\necho "sounds: $*"\n' >/usr/local/bin/horn
printf '#!/bin/sh\necho "sends: $*: $STOKEHOLD_TEXT"\n' >/usr/local/bin/send-message
printf '#!/bin/sh\necho "sets: $*"\n' >/usr/local/bin/gpioset
/commands.sh $page --block '#!' >/usr/local/bin/blower
chmod +x /usr/local/bin/*
/usr/local/bin/blower on | grep -x 'sets: .*=1'
/usr/local/bin/blower off | grep -x 'sets: .*=0'
{ /commands.sh $page --block '[hook horn]'; /commands.sh $page --block '[hook blower]'; } >/hooks.conf

# What an owner sees to; the trip is the one that the page has made.
follow() { # COMMAND
    case $1 in
    "make install" | "apt-get install "*) ;; # done outside
    *" -f") # goes on for ever; the first on the page is the package's
        systemctl is-active stokehold || return 0
        timeout 3 sh -c "$1" >/followed || [ $? = 124 ]
        grep -q stokehold /followed ;;
    *" --attach "*) # a board: q leaves, and y where an alarm stands
        (sleep 4; echo qy) | script -qefc "$1" /attached >/dev/null
        grep -aq 'vcan\|can0' /attached ;;
    "build/stokehold tend trip.log")
        sh -c "$1" >/told
        cat /told
        cut -d' ' -f2- /told >/told.words
        /commands.sh $page --block '<' | cut -d' ' -f2- | grep -qFx -f - /told.words
        build/stokehold tend --config /hooks.conf trip.log | grep 'hook horn: sounds: --seconds 10' ;;
    *"config print"*)
        sh -c "$1"
        cat /hooks.conf >>/etc/stokehold/stokehold.conf
        stokehold config check /etc/stokehold/stokehold.conf ;;
    "systemctl enable"*)
        sh -c "$1"
        await sh -c "stokehold tend --socket /run/stokehold/tend.sock --status | grep 'can0 up'"
        # three alerts to acknowledge one of
        stokehold drill --fault impeller --at +02:00 --minutes 6 --seed 3 --speed 16 --to can0
        await sh -c "journalctl -u stokehold --no-pager | grep 'hook horn: sounds: --seconds 10'" ;;
    *" --acknowledge "*) # the page's number may not be there, which has a status of its own
        sh -c "$1" || [ $? = 3 ] ;;
    *) sh -c "$1" ;;
    esac
}

modules=$(echo /modules/*/kernel)
for module in net/can/can net/can/can-raw drivers/net/can/dev/can-dev drivers/net/can/vcan; do
    insmod $modules/$module.ko
done
ip link add dev can0 type vcan
ip link set can0 up
/commands.sh $page >/commands
while read -r command <&8; do
    echo "== $command"
    follow "$command"
done 8</commands
await sh -c "journalctl -u stokehold --no-pager | grep 'hook message: sends: Tern Point: '"
await stokehold tend --socket /run/stokehold/tend.sock --status
systemctl show -p RestrictAddressFamilies stokehold | grep AF_INET6
systemctl stop stokehold
[ "$(systemctl show -P Result stokehold)" = success ]
echo good
