# A trial that writes its page and its table, with a list of what was confirmed in it, and is added to
# the trips that it is compared with. Read by sweep.sh.
. "$here/papers.sh"
write=(trial --utc --csv --html run/page.html --season run/season --sign-off run/list trip.log)

before() {
    if [ ! -e season ]; then
        "$program" drill --minutes 12 --seed 4 -o early.log
        "$program" trial --learn season early.log >/dev/null
        "$program" muster --sign-off list --confirm exhaust.0 --check compared --reference '60 C' \
            --tolerance '1.5 K' --by 'A. Hand' early.log >/dev/null
    fi
    cp season list run
}
