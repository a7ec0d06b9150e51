# A run of `sift --season` that adds a trip to a file which holds one. After each: the file is what it
# was or what it is to be, and nothing between; it is told where the trip was not added; the alarm is
# in the timeline all the same. Read by sweep.sh.

prepare() {
    "$program" drill --minutes 25 --seed 4 --engines 1 -o early.log
    # the next day
    "$program" drill --fault impeller --at +15:00 --minutes 22 --seed 3 --engines 1 |
        awk '{ sub(/^\(/, ""); t = $1 + 86400; i = index($0, "."); print "(" int(t) substr($0, i) }' >late.log
    "$program" sift --season before early.log >/dev/null
    cp before after
    "$program" sift --season after late.log >/dev/null
    ! cmp -s before after || { echo "the season does not grow"; exit 1; }
}

run() {
    cp before run/season
    with "$1" "$2"
    "${shimmed[@]}" sift --utc --season run/season late.log >run/out 2>run/err
    status=$?
}

judge() {
    if ! cmp -s run/season before && ! cmp -s run/season after; then
        echo "the season is torn"
    fi
    case $1 in
    malloc:*) ;; # it may not even begin
    open:*) grep -q 'check raw water' run/out || [ "$status" -gt 1 ] || echo "no alarm" ;;
    *) grep -q 'check raw water' run/out || echo "no alarm" ;;
    esac
    judge_end 0 && return
    cmp -s run/season after || [ -s run/err ] || echo "the trip is not kept, and nobody is told"
}
