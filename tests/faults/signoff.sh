# A confirmation by hand that is added to a list which holds one. Read by sweep.sh.
. "$here/papers.sh"
confirm() { # CHANNEL: in words
    write=(muster --utc --sign-off run/list --confirm "$1" --check compared --reference '60 C'
        --tolerance '1.5 K' --by 'A. Hand' trip.log)
}

before() {
    if [ ! -e list ]; then
        confirm exhaust.0
        "$program" "${write[@]/run\/list/list}" >/dev/null
    fi
    cp list run
    confirm exhaust.1
}
