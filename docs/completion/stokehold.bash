# bash completion for stokehold. Verbs and options are asked of the program, so they never differ.
_stokehold() {
    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]} verb=${COMP_WORDS[1]}
    local program=${COMP_WORDS[0]} words
    if [ "$COMP_CWORD" -eq 1 ]; then
        words=$("$program" --help 2>/dev/null | sed -n 's/^  \([a-z][a-z]*\) .*/\1/p')
        mapfile -t COMPREPLY < <(compgen -W "$words --help --version" -- "$cur")
        return
    fi
    case $verb$prev in
    drill--fault)
        words=$("$program" drill --help 2>/dev/null | sed -n 's/^ *--fault NAME *//p' |
            sed 's/; for a trial/,/; s/ or /, /' | tr ',' ' ')
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur")
        return
        ;;
    config*)
        if [ "$COMP_CWORD" -eq 2 ]; then
            mapfile -t COMPREPLY < <(compgen -W "check print keys --help" -- "$cur")
            return
        fi
        ;;
    esac
    if [[ $cur == -* ]]; then
        words=$("$program" "$verb" --help 2>/dev/null | grep -o -- '--[a-z][a-z-]*')
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur")
        return
    fi
    words=$(cd /sys/class/net 2>/dev/null && ls -d -- *can* 2>/dev/null)
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur"; compgen -f -- "$cur")
}
complete -o filenames -F _stokehold stokehold
