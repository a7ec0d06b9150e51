#!/bin/bash
# sweep.sh CASE PROGRAM SHIM WORK [STRIDE [OFFSET]]: lets the n-th call of each sort fail, be cut short,
# stand still, or all from the n-th on, for every n (with a stride: for some, from the OFFSET-th after
# the first) of one run of the program, as CASE.sh beside this file has it. A run that cannot even
# begin says why and ends with status 2 or 3.
# The last line is `N tried, N lost`.
#
# A case defines
#   prepare          what is made once
#   run FAULT COUNT  one run below ./run, its exit status into $status; with COUNT, how often each
#                    call was made goes into that file
#   judge FAULT      says what is wrong with the run just made; nothing when all is well
#   extras           further runs; may be empty
set -u
exec </dev/null
shopt -s nullglob
here=$(cd "$(dirname "$0")" && pwd)
name=$1 program=$(realpath "$2") shim=$(realpath "$3") work=$4 stride=${5:-1} offset=${6:-0}
rm -rf "$work"
mkdir -p "$work"
cd "$work" || exit 2
tried=0 lost=0 ended=0

# with FAULT COUNT: sets `shimmed` to the program with that fault in it, a minute at most.
with() {
    shimmed=(timeout -k 1 60 env SHIM_FAIL="$1" SHIM_COUNT="$2" SHIM_GATE="$PWD/gate"
        LD_PRELOAD="$shim" "$program")
}

# How the run ended, where that alone is wrong or is all there is to say: then 0.
judge_end() { # GOOD STATUS...
    for good; do
        [ "$status" = "$good" ] && return 1
    done
    case $status in
    2 | 3) # it could not begin
        [ -s run/err ] || echo "status $status without a word" ;;
    124 | 137) echo "hangs" ;;
    *) echo "ends with $status: $(tail -1 run/err)" ;;
    esac
    return 0
}

judge_record() { # DIR: no torn line in it
    local log bad
    for log in "$1"/frames-*.log "$1"/incidents/*/; do
        case $log in */) [ -e "$log/frames.log" ] || continue ;; *) [ -s "$log" ] || continue ;; esac
        bad=$("$program" sift --json "$log" 2>/dev/null | sed -n 's/.*"event":"summary".*"bad_lines":\([0-9]*\).*/\1/p')
        [ "${bad:-0}" = 0 ] || echo "$log has $bad bad lines"
    done
}

lose() {
    lost=$((lost + 1))
    echo "$*"
}

try() {
    rm -rf run
    mkdir run
    echo "$tried: $1" >now # for who wants to know how far it has come
    run "$1" ""
    tried=$((tried + 1))
    [ "$status" -lt 2 ] || ended=$((ended + 1))
    local wrong
    wrong=$(judge "$1")
    [ -z "$wrong" ] || lose "$1: ${wrong//$'\n'/; }"
}

# every OP COUNT: each of the calls, and some of them in other ways.
every() {
    local op=$1 count=$2 hows=on step=$stride n how
    case $op in
    write) hows="on short stall" ;;
    fsync | open | rename | close | poll) hows="on stall" ;;
    esac
    # allocations and polls are many: as many of them as of the others
    [ "$count" -gt 300 ] && step=$((stride * count / 300))
    for ((n = 1 + offset; n <= count; n += step)); do
        try "$op:$n"
        [ "$op" = poll ] && continue
        for how in $hows; do
            [ $((n % (8 * step) < step)) = 1 ] && try "$op:$n:$how"
        done
    done
}

extras() { :; }
. "$here/$name.sh"
prepare
mkdir run
run none:0 "$PWD/counts"
wrong=$(judge none:0)
[ -z "$wrong" ] && [ -s counts ] || { echo "$name: no fault, and yet: $wrong"; exit 1; }
while read -r op count <&9; do
    every "$op" "$count"
done 9<counts
extras
[ "$ended" -gt 0 ] || lose "no fault has struck"
echo "$name: $tried tried, $lost lost"
[ "$lost" = 0 ]
