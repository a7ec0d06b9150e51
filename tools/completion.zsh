#compdef stokehold
# zsh completion for stokehold. Verbs and options are asked of the program, so they never differ.
local program=$words[1]
local -a found
if (( CURRENT == 2 )); then
    found=(${(f)"$($program --help 2>/dev/null | sed -n 's/^  \([a-z][a-z]*\)  *\(.*\)/\1:\2/p')"})
    _describe 'verb' found
    return
fi
case $words[2] in
config)
    (( CURRENT == 3 )) && { compadd check print keys; return }
    ;;
drill)
    [[ $words[CURRENT-1] == --fault ]] && {
        compadd none impeller vanes fouled seacock coolant-pump fire sensor-open sensor-silent \
            two-boxes
        return
    }
    ;;
esac
if [[ $words[CURRENT] == -* ]]; then
    found=(${(f)"$($program $words[2] --help 2>/dev/null |
        sed -n 's/^  .*--\([a-z][a-z-]*\)[^ ]* *[A-Z]*  *\(.*\)/--\1:\2/p')"})
    _describe 'option' found
    return
fi
found=(/sys/class/net/*can*(N:t))
(( $#found )) && compadd -- $found
_files
