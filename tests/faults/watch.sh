# A live board of lines, `watch --plain --record`, on vcan0, where an exhaust is far too hot. After
# each: the alarm was told, the record is not torn, and it ends as a signal asks. Runs in the guest of
# tests/can/boot.sh. Read by sweep.sh, and by board.sh, which has the same board on a terminal.

shows='EXHAUST 140 ' # the alarm, on the board
tells='alarm, raised: .*EXHAUST 140 '
troubles='caution, raised: .*(cannot|disk)|cannot'

prepare() {
    # 130316 and 127488, as in tests/screen/test_soak.c: 140 °C at 800 rpm, again and again
    cat >hot.log <<'LOG'
(1.000000) can0 15FD0C22#00000EDE4D06FFFF
(1.001000) can0 09F20020#00401FDC0500FFFF
(1.100000) can0 15FD0C22#00000EDE4D06FFFF
LOG
    canplayer vcan0=can0 -l i -I hot.log &
    trap 'kill %1' EXIT
}

# begin: the board as a process $pid, what it shows in run/out.
begin() {
    "${shimmed[@]}" watch --plain --record run/record vcan0 </dev/null >run/out 2>run/err &
    pid=$!
}

# look: brings run/out up to date.
look() { :; }

stop() {
    kill -TERM $pid 2>/dev/null
}

# Until the alarm is told and, where it can be, in the record; a fault may take one of them away.
run() {
    with "$1" "$2"
    local pid i
    begin
    for ((i = 0; i < 60; i++)); do
        kill -0 $pid 2>/dev/null || break
        look
        if grep -Eq "$shows" run/out 2>/dev/null; then
            case $1 in none:* | poll:* | socket:*) ;; *) [ $i -gt 30 ] && break ;; esac
            cat run/record/alerts-*.jsonl 2>/dev/null | grep -q 'EXHAUST 140 ' && break
        fi
        sleep 0.1
    done
    stop
    wait $pid
    status=$?
    look
}

judge() {
    judge_end 143 && return
    case $1 in
    write:* | malloc:*:on) ;;
    socket:*:on) grep -Eq "$tells|vcan0 cannot be read" run/out || echo "no alarm, and nobody is told why" ;;
    *) grep -Eq "$tells" run/out || echo "no alarm" ;;
    esac
    judge_record run/record
    case $1 in
    none:*) grep -q 'EXHAUST 140 ' run/record/alerts-*.jsonl || echo "the record has no alert" ;;
    open:*:on | fsync:*:on | mkdir:*:on)
        grep -Eq "$troubles" run/out run/err || echo "nobody is told" ;;
    esac
}

# No socket can be opened once it has begun: not one to ask for the interface, or none to read it.
extras() {
    try socket:2:on
    try socket:4:on
}
