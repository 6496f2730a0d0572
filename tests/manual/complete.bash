# complete.bash - What bash offers for the beginnings of command lines, one line for each.
# usage: bash complete.bash COMPLETION_FILE   (lampread in PATH, in a folder with what it may offer)
. "$1"

offer() {
    COMP_WORDS=("$@")
    COMP_CWORD=$(($# - 1))
    _lampread
    printf '%s =>' "$*"
    printf ' [%s]' "${COMPREPLY[@]}"
    echo
}

complete -p lampread
offer lampread w
offer lampread book sh
offer lampread read --export-f
offer lampread read x.mp4 --pull ''
offer lampread read x.mp4 --pull = u
offer lampread read x.mp4 --export-trace ''
offer lampread read bo
offer lampread read -b heron
offer lampread book check ''
