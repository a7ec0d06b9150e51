# bash completion for stokehold. Verbs, options and their values are asked of the program, so they
# never differ from it.
_stokehold() {
    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]} verb=${COMP_WORDS[1]}
    local program=${COMP_WORDS[0]} words
    COMPREPLY=()
    if [ "$COMP_CWORD" -eq 1 ]; then
        words=$("$program" --help 2>/dev/null | sed -n 's/^  \([a-z][a-z]*\) .*/\1/p')
        mapfile -t COMPREPLY < <(compgen -W "$words --help --version" -- "$cur")
        return
    fi
    if [ "$verb" = config ] && [ "$COMP_CWORD" -eq 2 ]; then
        mapfile -t COMPREPLY < <(compgen -W "check print keys --help" -- "$cur")
        return
    fi
    if [[ $prev == --* ]]; then
        words=$("$program" "$verb" --help 2>/dev/null |
            sed -n "s/^ .*$prev [A-Z].*{\(.*\)}\$/\1/p" | tr ',' ' ')
        if [ -n "$words" ]; then
            mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur")
            # a theme may be a file too
            [ "$prev" = --theme ] && mapfile -t -O "${#COMPREPLY[@]}" COMPREPLY < <(compgen -f -- "$cur")
            return
        fi
    fi
    if [[ $cur == -* ]]; then
        words=$("$program" "$verb" --help 2>/dev/null | sed -n 's/^  .*\(--[a-z][a-z-]*\).*/\1/p')
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur")
        return
    fi
    words=$(cd /sys/class/net 2>/dev/null && ls -d -- *can* 2>/dev/null)
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur"; compgen -f -- "$cur")
}
complete -o filenames -F _stokehold stokehold
