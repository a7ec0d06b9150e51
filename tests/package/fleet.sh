#!/bin/bash
# fleet.sh PROGRAM WORK: the commands and questions of docs/fleet.md as they stand there, with the real
# ones: a node exporter picks up what a running `tend` writes, a Prometheus scrapes it and finds the
# alarm aboard. Only where the files lie, the boat's address and the times between scrapes are ours.
# Needs prometheus, prometheus-node-exporter, curl.
set -eu
program=$(realpath "$1") work=$2 top=$PWD
commands=$(realpath tests/package/commands.sh) page=$(realpath docs/fleet.md)
exporter_port=19100 prometheus_port=19090
rm -rf "$work"
mkdir -p "$work/run" "$work/etc"
etc=$(realpath "$work/etc")
"$commands" "$page" Ashore >"$work/commands"
grep -q '^promtool check config' "$work/commands"
while read -r command <&8; do
    case $command in "apt-get install "* | "systemctl restart prometheus") continue ;; esac
    command=${command//\/etc\/prometheus/$etc}
    echo "== $command"
    (cd "$top" && sh -c "$command")
done 8<"$work/commands"
exporter=$("$commands" "$page" --block ARGS= | sed 's/^ARGS="//; s/"$//')
questions=$("$commands" "$page" --block '# boats that are aboard' | sed 's/^#.*/;/; s/^  */ /' | tr -d '\n' | tr ';' '\n')
cd "$work"
sed -i "s/tern-point.example:9100/127.0.0.1:$exporter_port/; /grey-heron/,\$d" etc/boats.yml
sed -i 's/_interval: 30s/_interval: 1s/; s/scrape_timeout: 20s/scrape_timeout: 1s/' etc/prometheus.yml
promtool check rules etc/prometheus-rules.yml

pids=
trap 'for p in $pids; do kill "$p" 2>/dev/null || :; done; wait' EXIT
"$program" drill --fault impeller --at +03:00 --minutes 5 --seed 3 -o trip.log
mkfifo in
printf '[vessel]\nname = Tern Point\n' >boat.conf
"$program" tend --config boat.conf --metrics run/boat.prom - <in >tend.log 2>&1 &
pids="$pids $!"
exec 3>in
awk -F '[(.]' 'NR == 1 { t = $2 } $2 - t < 230' trip.log >&3 # the alarm still stands then
# shellcheck disable=SC2086 # words
prometheus-node-exporter ${exporter//\/run\/stokehold/$PWD/run} \
    --web.listen-address="127.0.0.1:$exporter_port" 2>exporter.log &
pids="$pids $!"
prometheus --config.file=etc/prometheus.yml --storage.tsdb.path=data \
    --web.listen-address="127.0.0.1:$prometheus_port" 2>prometheus.log &
pids="$pids $!"

ask() { curl -fsS -G "http://127.0.0.1:$prometheus_port/api/v1/query" --data-urlencode "query=$1"; }
await() { # QUERY WORDS: only a failure takes so long
    for _ in $(seq 300); do
        ask "$1" 2>/dev/null | grep -q "$2" && { echo "found: $1"; return 0; }
        sleep 0.2
    done
    echo "$1 does not give $2 but: $(ask "$1")"
    tail -n 5 exporter.log prometheus.log tend.log
    exit 1
}
promtool check metrics <run/boat.prom 2>/dev/null || { sleep 16; promtool check metrics <run/boat.prom; }
await 'node_textfile_scrape_error{boat="tern-point"}' '"0"'
await 'stokehold_boat_info{boat="tern-point"}' 'Tern Point'
await 'stokehold_temperature_celsius{channel="exhaust.1"}' '"place":"STARBOARD"'
await 'stokehold_alert{priority="alarm"}' 'check raw water'
await 'ALERTS{alertname="AlarmAboard"}' 'check raw water'
await 'time() - stokehold_written_timestamp_seconds' '"value"'
asked=0
while read -r question <&8; do
    [ -n "$question" ] || continue
    ask "$question" | grep -q '"status":"success"' || { echo "cannot be asked: $question"; exit 1; }
    asked=$((asked + 1))
done 8<<<"$questions"
[ "$asked" = 3 ]
await "$(grep '^stokehold_alert{' <<<"$questions")" '"id":"1"'
echo good
