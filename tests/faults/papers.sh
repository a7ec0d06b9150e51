# Runs that write files which somebody prints, hands over or goes on with. After each: every file is
# what it was before or what it is to be, and nothing between; where one is not what it is to be, or
# standard output is not whole, that was told and the status says so. Read by muster.sh, trial.sh and
# signoff.sh, which define
#   write          the program's arguments: what a run writes below run/, from trip.log
#   before         what lies below run/ before it; may be left out

before() { :; }

once() { # FAULT COUNT
    before
    with "$1" "$2"
    "${shimmed[@]}" "${write[@]}" >run/out 2>run/err
    status=$?
}

prepare() {
    "$program" drill --fault impeller --at +08:00 --minutes 12 --seed 3 -o trip.log
    rm -rf run old whole
    mkdir run
    before
    cp -r run old
    once none:0 ""
    cp -r run whole
    good=$status
    rm -r run
}

run() {
    once "$1" "$2"
}

# What matters of a file: not when it was confirmed, and not a log's sum where the page says in its
# place that it is not known.
matter() { # FILE PAGE
    local unknown='^never$'
    grep -q 'not known: it could not be read again' "$2" && unknown='class="words digest"'
    sed "/^at = /d; s/(A. Hand, .*)/(A. Hand)/; /$unknown/d" "$1"
}

same() { # FILE EXPECTED
    cmp -s <(matter "$1" "$1") <(matter "$2" "$1")
}

judge() {
    local file lacking=
    for file in whole/*; do
        file=${file#whole/}
        [ "$file" != err ] || continue
        if [ -e "run/$file" ] && same "run/$file" "whole/$file"; then
            continue
        fi
        lacking="$lacking $file"
        [ "$file" = out ] || [ ! -e "run/$file" ] || { [ -e "old/$file" ] && same "run/$file" "old/$file"; } ||
            echo "$file is torn"
    done
    for file in run/*; do
        [ -e "whole/${file#run/}" ] || [ -e "old/${file#run/}" ] || echo "$file is left behind"
    done
    judge_end "$good" && return
    [ -z "$lacking" ] || echo "nobody is told that it lacks$lacking"
}
