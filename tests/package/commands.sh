#!/bin/bash
# commands.sh PAGE [HEADING]: the commands that a page of the documents gives, below that heading or
# in all, in order, one a line; what is continued is joined, what it says behind a `#` is left out.
# The page's other blocks (configuration, scripts, questions, what a program prints) are known by how
# they begin; a block that is neither makes it fail, so that no page grows a command nobody tries.
# commands.sh PAGE --block WORDS: the block of the page that begins so, as it stands there.
set -eu
page=$1 heading=${2:-} words=${3:-}
awk -v heading="$heading" -v words="$words" '
function end_block() {
    if (n == 0)
        return
    if (heading == "--block") {
        if (index(block[1], words) == 1) {
            for (i = 1; i <= n; i++)
                print block[i]
            found = 1
        }
    } else if (block[1] ~ /^(build\/stokehold|stokehold|make|apt-get|journalctl|install|promtool) /) {
        found = 1
        for (i = 1; i <= n; i++) {
            line = block[i]
            while (sub(/ *\\$/, "", line))
                line = line " " block[++i]
            gsub(/  +/, " ", line)
            sub(/ # .*/, "", line)
            if (heading == "" || here)
                print line
        }
    } else if (block[1] !~ /^(<[0-9]>|cooling |season |\[|#!|ARGS=|# )/) {
        print "commands.sh: neither a command nor anything else that is known: " block[1] >"/dev/stderr"
        bad = 1
    }
    n = 0
}
/^## / { end_block(); here = substr($0, 4) == heading }
/^    / { block[++n] = substr($0, 5); next }
/^$/ && n > 0 { next }
{ end_block() }
END {
    end_block()
    if (!found && !bad) { print "commands.sh: nothing of that on the page" >"/dev/stderr"; bad = 1 }
    exit bad
}' "$page"
