# The board of watch.sh on a terminal, `watch --record`, which `script` holds. Read by sweep.sh.
. "$here/watch.sh"
shows='140 (°)?C, above' # on the alarm's line; without the sign where ASCII is drawn
tells=$shows
troubles='cannot|disk|halted'

# timeout must hold script and not the board, which a terminal would stop in the background.
begin() {
    printf 'echo $$ >run/pid\nexec %s watch --forget --size 80x24 --record run/record vcan0 2>run/err\n' \
        "${shimmed[*]:4}" >run/board
    : >run/raw
    TERM=xterm-256color "${shimmed[@]:0:4}" script -qefc "sh run/board" run/raw </dev/null >/dev/null 2>&1 &
    pid=$!
}

# What stood on the screen, and not the bytes that drew it.
look() {
    "$(dirname "$shim")/seen" run/raw 80 24 >run/out
}

stop() {
    kill -TERM "$(cat run/pid)" 2>/dev/null
}

# curses does not look at every allocation: where memory is out while it begins, it ends the program
# itself, with a word of its own or a crash. Nothing has been drawn then, and whoever started the
# board sees that it is not there; a tend has no curses.
eval "$(declare -f judge | sed '1s/judge/judge_watch/')"
judge() {
    case $1:$status in
    malloc:*:1 | malloc:*:139) grep -q ENGINE run/out || return ;;
    # no write reaches the terminal either: it ends as where a terminal goes away
    write:*:129) status=143 ;;
    esac
    judge_watch "$1"
}
