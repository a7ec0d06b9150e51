#!/bin/bash
# sweep.sh PROGRAM SHIM WORK [STRIDE]: lets the n-th call of each sort fail, be cut short, stand still,
# or all from the n-th on, for every n (with a stride: for some) of one run of `tend` with record,
# state, metrics, socket and a hook. After each: it has not crashed and did not hang, the alarm and its
# hook came, no file is torn that looks whole; where everything fails from some moment on, a caution
# says so. A run that cannot even begin says why and ends with status 2 or 3.
# The last line is `N tried, N lost`.
set -u
program=$(realpath "$1") shim=$(realpath "$2") work=$3 stride=${4:-1}
rm -rf "$work"
mkdir -p "$work"
cd "$work" || exit 2
"$program" drill --fault impeller --at +03:00 --minutes 5 --seed 3 --engines 1 -o trip.log
tried=0 lost=0

cat >hook.conf <<CONF
[hook note]
run = /bin/sh -c "echo ran >>$PWD/run/hooked"
when = raised, escalated
CONF

# run FAULT: one run with it; its status in $status.
run() {
    rm -rf run
    mkdir run
    timeout -k 1 60 env SHIM_FAIL="$1" SHIM_COUNT="${2:-}" SHIM_GATE="$PWD/nothing" LD_PRELOAD="$shim" \
        "$program" tend --utc \
        --config hook.conf --record run/record --state run/state --metrics run/boat.prom \
        --socket run/sock trip.log >run/out 2>run/err
    status=$?
}

# What is wrong with the run just made; nothing when all is well.
judge() {
    case $status in
    0) ;;
    2 | 3) # it could not begin, and says why
        [ -s run/err ] || echo "status $status without a word"
        return ;;
    124 | 137) echo "hangs"; return ;;
    *) echo "ends with $status: $(tail -1 run/err)"; return ;;
    esac
    # standard output itself may be what fails
    case $1 in
    write:*) ;;
    malloc:*:on) ;;
    *) grep -q 'check raw water' run/out || echo "no alarm" ;;
    esac
    case $1 in
    malloc:*:on) ;;
    *) grep -q ran run/hooked 2>/dev/null || grep -q 'watching by the defaults' run/out || echo "no hook" ;;
    esac
    if [ -e run/state ]; then
        [ "$(head -c 15 run/state)" = "stokehold state" ] && [ "$(tail -1 run/state)" = end ] || echo "state is torn"
    fi
    if [ -e run/boat.prom ]; then
        tail -c 1 run/boat.prom | cmp -s - <(echo) && grep -q '^stokehold_clock_trusted' run/boat.prom ||
            echo "metrics are torn"
    fi
    for log in run/record/frames-*.log run/record/incidents/*/; do
        case $log in */) [ -e "$log/frames.log" ] || continue ;; *) [ -s "$log" ] || continue ;; esac
        bad=$("$program" sift --json "$log" 2>/dev/null | sed -n 's/.*"event":"summary".*"bad_lines":\([0-9]*\).*/\1/p')
        [ "${bad:-0}" = 0 ] || echo "$log has $bad bad lines"
    done
    case $1 in
    open:*:on | fsync:*:on | rename:*:on) # files fail for good: somebody is told
        grep -Eq ' C raised .*(cannot|hook|disk|damaged)|cannot' run/out run/err || echo "nobody is told" ;;
    esac
}

try() {
    run "$1"
    tried=$((tried + 1))
    wrong=$(judge "$1")
    [ -z "$wrong" ] && return
    lost=$((lost + 1))
    echo "$1: $wrong" | tr '\n' ';'
    echo
}

await() { # WORDS: until they stand in the output; only a failure takes so long
    for ((i = 0; i < 600; i++)); do
        grep -Eq "$1" run/out && return 0
        sleep 0.1
    done
    return 1
}

# recover FAULT: everything fails from some moment on, then the fault is over: it is said, and then
# said to be over, and what was held meanwhile is on the disk.
recover() {
    rm -rf run never
    mkdir run
    mkfifo run/in
    env SHIM_FAIL="$1" SHIM_GATE="$PWD/never" LD_PRELOAD="$shim" "$program" tend --utc --config hook.conf \
        --record run/record --state run/state --metrics run/boat.prom - <run/in >run/out 2>run/err &
    local pid=$!
    exec 3>run/in
    head -9000 trip.log >&3
    tried=$((tried + 1))
    local wrong=
    await ' C raised .*(cannot|disk)' || wrong="nobody is told"
    touch never
    tail -n +9001 trip.log >&3
    await ' C rectified .*(cannot|disk)' || wrong="$wrong; it is not over when it is over"
    exec 3>&-
    wait "$pid" || wrong="$wrong; status $?"
    [ "$(tail -1 run/state)" = end ] || wrong="$wrong; no state"
    local frames
    frames=$(cat run/record/frames-*.log | grep -c '#')
    [ "$frames" = "$(grep -c '#' trip.log)" ] || wrong="$wrong; $frames frames are recorded"
    [ -z "$wrong" ] && return
    lost=$((lost + 1))
    echo "recover $1: $wrong"
}

run none:0 "$PWD/counts"
cat counts
while read -r op count; do
    hows=" on"
    case $op in
    write) hows="$hows short stall" ;;
    fsync | open | rename | close | poll) hows="$hows stall" ;;
    esac
    step=$stride
    # allocations and polls are many: as many of them as of the others
    [ "$count" -gt 300 ] && step=$((stride * count / 300))
    for ((n = 1; n <= count; n += step)); do
        try "$op:$n"
        [ "$op" = poll ] && continue
        for how in $hows; do
            [ $((n % (8 * step) < step)) = 1 ] && try "$op:$n:$how"
        done
    done
done <counts
for fault in fsync:2 rename:2 open:18 unlink:1; do
    recover "$fault:on"
done
echo "$tried tried, $lost lost"
[ "$lost" = 0 ]
