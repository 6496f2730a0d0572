#!/bin/sh
# run.sh - Check what the command prints and how it exits, one file a behaviour.
# usage: run.sh BINARY [CASE.case]...
#
# A case file:   # a sentence that is true of the command
#                $ command          run in a fresh folder with the inputs of make.sh, lampread first in PATH
#                > line             standard output, line by line, exactly; none: nothing is printed there
#                ? text             standard output holds this; stands in place of '>' lines
#                ! line             standard error, line by line, exactly
#                = status           exit status; ends the check of this command
#                @ need             skip what follows, up to the status, unless: user (not root), FILE (there is one)
set -u

here=$(cd "$(dirname "$0")" && pwd)
[ $# -ge 1 ] || { echo "usage: run.sh BINARY [CASE.case]..." >&2; exit 2; }
binary=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
shift
[ -x "$binary" ] || { echo "run.sh: $binary: there is no such command" >&2; exit 2; }

work=$(mktemp -d) || exit 2
trap 'chmod -R u+rwX "$work"; rm -rf "$work"' EXIT
trap 'exit 1' HUP INT TERM
mkdir "$work/bin" "$work/home"
ln -s "$binary" "$work/bin/lampread"

PATH=$work/bin:$PATH
HOME=$work/home
LC_ALL=C.UTF-8
LAMPREAD_BOOKS=$(cd "$here/../.." && pwd)/codebooks
export PATH HOME LC_ALL LAMPREAD_BOOKS
unset NO_COLOR XDG_DATA_HOME

run=0 failed=0 skipped=0

# Why the need of a command is not met; nothing if it is.
unmet() {
    case $1 in
    user) [ "$(id -u)" -ne 0 ] || echo "root may read everything" ;;
    *) [ -e "$1" ] || echo "there is no $1 here" ;;
    esac
}

complain() {
    echo "FAILED  $case: $command"
    echo "        $1"
    [ $# -lt 2 ] || diff -u "$2" "$3" | sed '1,2d; s/^/        /'
    failed=$((failed + 1))
}

check() {
    run=$((run + 1))
    (cd "$work/in" && sh -c "$command") >"$work/out" 2>"$work/err" </dev/null
    status=$?
    if [ "$status" -ne "$1" ]; then
        complain "exit status $status, expected $1: $(head -n 1 "$work/err")"
    elif ! cmp -s "$work/err" "$work/want_err"; then
        complain "standard error differs" "$work/want_err" "$work/err"
    elif [ -s "$work/want_part" ]; then
        while IFS= read -r part; do
            grep -qF -- "$part" "$work/out" || complain "standard output lacks: $part"
        done <"$work/want_part"
    elif ! cmp -s "$work/out" "$work/want_out"; then
        complain "standard output differs" "$work/want_out" "$work/out"
    fi
}

begin() {
    command=$1
    need=
    : >"$work/want_out"
    : >"$work/want_err"
    : >"$work/want_part"
}

finish() {
    why=
    [ -z "$need" ] || why=$(cd "$work/in" && unmet "$need")
    if [ -n "$why" ]; then
        echo "skipped: $case: $command: $why"
        skipped=$((skipped + 1))
    else
        check "$1"
    fi
}

renew_inputs() {
    [ ! -d "$work/in" ] || chmod -R u+rwX "$work/in"
    rm -rf "$work/in"
    mkdir "$work/in"
    sh "$here/make.sh" "$work/in" || exit 2
}

run_case() {
    case=$(basename "$1" .case)
    renew_inputs
    while IFS= read -r line || [ -n "$line" ]; do
        text=${line#??}
        case $line in
        '$ '*) begin "$text" ;;
        '@ '*) need=$text ;;
        '> '* | '>') printf '%s\n' "$text" >>"$work/want_out" ;;
        '? '*) printf '%s\n' "$text" >>"$work/want_part" ;;
        '! '*) printf '%s\n' "$text" >>"$work/want_err" ;;
        '= '*) finish "$text" ;;
        '' | '#'*) ;;
        *) echo "run.sh: $1: not a line of a case: $line" >&2; exit 2 ;;
        esac
    done <"$1"
}

[ $# -gt 0 ] || set -- "$here"/*.case "$here"/bad/*.case
for file in "$@"; do
    run_case "$file"
done
echo "$run commands checked, $failed failed, $skipped skipped"
[ "$run" -gt 0 ] && [ "$failed" -eq 0 ]
