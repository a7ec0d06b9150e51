# A run of `tend` with record, state, metrics, socket and a hook. After each: the alarm and its hook
# came, no file is torn that looks whole; where everything fails from some moment on, a caution says
# so; and it says that it is over when it is. Read by sweep.sh.

prepare() {
    "$program" drill --fault impeller --at +03:00 --minutes 5 --seed 3 --engines 1 -o trip.log
    cat >hook.conf <<CONF
[hook note]
run = /bin/sh -c "echo ran >>$PWD/run/hooked"
when = raised, escalated
CONF
}

run() {
    with "$1" "$2"
    "${shimmed[@]}" tend --utc \
        --config hook.conf --record run/record --state run/state --metrics run/boat.prom \
        --socket run/sock trip.log >run/out 2>run/err
    status=$?
}

judge() {
    judge_end 0 && return
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
    judge_record run/record
    case $1 in
    open:*:on | fsync:*:on | rename:*:on) # files fail for good: somebody is told
        grep -Eq ' C raised .*(cannot|hook|disk|damaged)|cannot' run/out run/err || echo "nobody is told" ;;
    esac
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
    rm -rf run gate
    mkdir run
    mkfifo run/in
    with "$1" ""
    "${shimmed[@]}" tend --utc --config hook.conf \
        --record run/record --state run/state --metrics run/boat.prom - <run/in >run/out 2>run/err &
    local pid=$!
    exec 3>run/in
    head -9000 trip.log >&3
    tried=$((tried + 1))
    local wrong=
    await ' C raised .*(cannot|disk)' || wrong="nobody is told"
    touch gate
    tail -n +9001 trip.log >&3
    await ' C rectified .*(cannot|disk)' || wrong="$wrong; it is not over when it is over"
    exec 3>&-
    wait "$pid" || wrong="$wrong; status $?"
    [ "$(tail -1 run/state)" = end ] || wrong="$wrong; no state"
    local frames
    frames=$(cat run/record/frames-*.log | grep -c '#')
    [ "$frames" = "$(grep -c '#' trip.log)" ] || wrong="$wrong; $frames frames are recorded"
    [ -z "$wrong" ] || lose "recover $1: $wrong"
}

extras() {
    for fault in fsync:2 rename:2 open:18 unlink:1; do
        recover "$fault:on"
    done
}
