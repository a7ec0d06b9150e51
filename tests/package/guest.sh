#!/bin/bash
# Within the guest of test.sh, run by its service manager once everything has been started: what an
# owner would do, step by step. Each step says what it proves; the last line of /result is "good".
exec >/result 2>&1
set -eux
fail() { systemctl status stokehold --no-pager -l; journalctl -u stokehold --no-pager | tail -40; exit 1; }
trap fail ERR
sock=/run/stokehold/tend.sock
ask() { setpriv --reuid stokehold --regid stokehold --clear-groups stokehold tend --socket $sock "$@"; }
await() { # COMMAND...: until it succeeds; only a failure takes so long
    for _ in $(seq 300); do "$@" >/dev/null 2>&1 && return 0; sleep 0.1; done
    echo "did not come: $*"; return 1
}

# What a kernel of today's distributions loads by itself; until then the service is started again and
# again, which is what it should do. The interface comes late, as a USB adapter does.
modules=$(echo /modules/*/kernel)
for module in net/can/can net/can/can-raw drivers/net/can/dev/can-dev drivers/net/can/vcan; do
    insmod $modules/$module.ko
done
await systemctl is-active stokehold
systemctl show -p User stokehold | grep =stokehold
grep -q 8388608 /proc/sys/net/core/rmem_max
[ "$(stat -c %U /var/lib/stokehold)" = stokehold ]
await ask --status
ask --status | grep 'can0 DOWN'
ip link add dev can0 type vcan
ip link set can0 up
await sh -c "stokehold tend --socket $sock --status | grep 'can0 up'"

# a trip with a lost impeller, faster than life
stokehold drill --fault impeller --at +02:00 --minutes 6 --seed 3 --speed 16 --to can0
await grep -q check.raw.water /var/lib/stokehold/record/alerts-*.jsonl
ask --status --json | grep -q '"channel":"exhaust.1"'
await test -d /var/lib/stokehold/record/incidents
ask --acknowledge 1 || ask --status

# the alarm on trial reaches the journal and a hook under the sandbox
cat >/etc/stokehold/stokehold.conf <<'CONF'
[vessel]
name = Tern Point
[hook note]
run = /bin/sh -c "echo hooked: $STOKEHOLD_TEST $STOKEHOLD_PRIORITY"
CONF
systemctl reload stokehold
await sh -c "journalctl -u stokehold | grep 'was read again'"
ask --try-alarm
await sh -c "journalctl -u stokehold | grep 'hook note: hooked: 1 alarm'"
ask --status --json | grep '"vessel":"Tern Point"'

# the collector's user reads the metrics, as docs/fleet.md has it
await test -s /run/stokehold/boat.prom
setpriv --reuid nobody --regid nogroup --clear-groups grep stokehold_boat_info /run/stokehold/boat.prom
sed -i '/^ARGS=/d' /etc/default/prometheus-node-exporter
/commands.sh /fleet.md --block ARGS= >>/etc/default/prometheus-node-exporter
ip link set lo up
systemctl restart prometheus-node-exporter
get() { exec 3<>/dev/tcp/127.0.0.1/9100; printf 'GET /metrics HTTP/1.0\r\n\r\n' >&3; cat <&3; exec 3>&-; }
scraped() { get | grep -q '^stokehold_boat_info{.*vessel="Tern Point"'; }
export -f get scraped
await bash -c scraped
get | grep '^node_textfile_scrape_error 0'

# hooks have no network here, and get one by the drop-in
systemctl show -p RestrictAddressFamilies stokehold | grep -v AF_INET
install -D -m 644 /usr/share/stokehold/stokehold-network-hooks.conf \
    /etc/systemd/system/stokehold.service.d/network-hooks.conf
systemctl daemon-reload
systemctl restart stokehold
systemctl show -p RestrictAddressFamilies stokehold | grep AF_INET6
await ask --status

# killed: started again, with what was not acknowledged; stopped: cleanly
kill -KILL "$(systemctl show -P MainPID stokehold)"
await ask --status
systemctl stop stokehold
[ "$(systemctl show -P Result stokehold)" = success ]
cp -r /var/lib/stokehold /kept
systemd-analyze security stokehold --no-pager | tail -1
echo good
