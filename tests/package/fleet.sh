#!/bin/bash
# fleet.sh PROGRAM WORK: the configurations that ship for a fleet, as docs/fleet.md has them, with the
# real ones: a node exporter picks up what a running `tend` writes, a Prometheus scrapes it and finds
# the alarm aboard. Only the times between scrapes are shortened. Needs prometheus,
# prometheus-node-exporter, curl.
set -eu
program=$(realpath "$1") work=$2 configs=$(realpath configs)
exporter_port=19100 prometheus_port=19090
rm -rf "$work"
mkdir -p "$work/run"
cd "$work"
cp "$configs"/prometheus-rules.yml "$configs"/prometheus-boats.yml .
sed "s/tern-point.example:9100/127.0.0.1:$exporter_port/; /grey-heron/,\$d" "$configs/prometheus-targets.yml" |
    sed '/^- targets:.*grey/,$d' >boats.yml
sed -i 's/_interval: 30s/_interval: 1s/; s/scrape_timeout: 20s/scrape_timeout: 1s/' prometheus-boats.yml
promtool check rules prometheus-rules.yml
promtool check config prometheus-boats.yml

pids=
trap 'for p in $pids; do kill "$p" 2>/dev/null || :; done; wait' EXIT
"$program" drill --fault impeller --at +03:00 --minutes 5 --seed 3 -o trip.log
mkfifo in
printf '[vessel]\nname = Tern Point\n' >boat.conf
"$program" tend --config boat.conf --metrics run/boat.prom - <in >tend.log 2>&1 &
pids="$pids $!"
exec 3>in
cat trip.log >&3
prometheus-node-exporter --collector.disable-defaults --collector.textfile \
    --collector.textfile.directory="$PWD/run" --web.listen-address="127.0.0.1:$exporter_port" 2>exporter.log &
pids="$pids $!"
prometheus --config.file=prometheus-boats.yml --storage.tsdb.path=data \
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
echo good
