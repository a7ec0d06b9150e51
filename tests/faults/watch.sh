# A live board of lines, `watch --plain --record`, on vcan0, where an exhaust is far too hot. After
# each: the alarm was told, the record is not torn, and it ends as a signal asks. Runs in the guest of
# tests/can/boot.sh. Read by sweep.sh.

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

# Until the alarm is told and, where it can be, in the record; a fault may take one of them away.
run() {
    with "$1" "$2"
    "${shimmed[@]}" watch --plain --record run/record vcan0 </dev/null >run/out 2>run/err &
    local pid=$! i
    for ((i = 0; i < 60; i++)); do
        kill -0 $pid 2>/dev/null || break
        if grep -q 'EXHAUST 140 ' run/out 2>/dev/null; then
            case $1 in none:* | poll:* | socket:*) ;; *) [ $i -gt 30 ] && break ;; esac
            cat run/record/alerts-*.jsonl 2>/dev/null | grep -q 'EXHAUST 140 ' && break
        fi
        sleep 0.1
    done
    kill -TERM $pid 2>/dev/null
    wait $pid
    status=$?
}

judge() {
    judge_end 143 && return
    case $1 in
    write:* | malloc:*:on) ;;
    *) grep -q 'alarm, raised: .*EXHAUST 140 ' run/out || echo "no alarm" ;;
    esac
    judge_record run/record
    case $1 in
    none:*) grep -q 'EXHAUST 140 ' run/record/alerts-*.jsonl || echo "the record has no alert" ;;
    open:*:on | fsync:*:on | mkdir:*:on)
        grep -Eq 'caution, raised: .*(cannot|disk)|cannot' run/out run/err || echo "nobody is told" ;;
    esac
}
