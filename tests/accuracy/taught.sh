#!/bin/sh
# taught.sh - Is a taught book as good as the one its codes come from? Every code of a book is rendered in clean light and
# taught to an empty book; then hard clips (shaky, dim, pumping, 4 % of the frames lost) are read with either. Prints a table,
# judges nothing.
# usage: taught.sh BUILD-FOLDER [CLIPS_A_CODE [SEED]]
set -eu

build=${1:?usage: taught.sh BUILD-FOLDER [CLIPS_A_CODE [SEED]]}
clips=${2:-3}
seed=${3:-1}
project=$(cd "$(dirname "$0")/../.." && pwd)
lampread=$build/src/lampread
[ -x "$lampread" ] || { echo "taught.sh: $lampread is missing: build first" >&2; exit 2; }
export LAMPREAD_BOOKS="$project/codebooks"

book=heron-h1
# The codes of its status lamp that change; steady light teaches no length.
codes="image-damaged no-boot-medium no-kernel clock memory supply-low too-hot controller-loop watchdog storage-slow
    network-none stopped waiting help unsettled"
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT INT TERM

"$lampread" book new "$folder/taught.yaml" --board "Taught (invented)" --lamp status=green >"$folder/made"
for code in $codes; do
    "$lampread" render "$book:$code" -l green@300,170 --for 40s --seed "$seed" -o "$folder/clean.mp4" --any-flash >/dev/null
    set -- --book "$folder/taught.yaml" --id "$code" --means "as in $book"
    [ "$code" != unsettled ] || set -- "$@" --flicker
    [ "$code" != stopped ] || set -- "$@" --exact
    "$lampread" book teach "$folder/clean.mp4" "$@" >"$folder/said" 2>&1 || {
        printf '%s is not taught: ' "$code"
        tail -n 1 "$folder/said"
    }
done

# The code told of the first lamp; nothing if none is.
told() { # CLIP BOOK
    "$lampread" read "$1" --book "$2" --json 2>/dev/null |
        sed -n '/"match": {/,/"means"/s/.*"id": "\([^"]*\)".*/\1/p' | head -n 1
}

judge() { # TOLD CODE
    case "$1" in
    "$2") echo right ;;
    "") echo none ;;
    *) echo wrong ;;
    esac
}

printf '%-16s %8s %28s %28s\n' code clips "$book: right wrong none" "taught: right wrong none"
for code in $codes; do
    i=0
    while [ "$i" -lt "$clips" ]; do
        i=$((i + 1))
        speed=$((90 + (i * 7 + seed * 3) % 21))
        "$lampread" render "$book:$code" -l green@330,190 --for 24s --seed $((seed * 100 + i)) --speed "$speed%" --shake 4 \
            --drift 4 --ambient 3% --auto-exposure 70% --noise 3 --exposure 30ms --drop 4% --late 2% --brightness 1.5 \
            --quality 60 -o "$folder/hard.mp4" --any-flash >/dev/null
        printf '%s %s %s\n' "$code" "$(judge "$(told "$folder/hard.mp4" "$book")" "$code")" \
            "$(judge "$(told "$folder/hard.mp4" "$folder/taught.yaml")" "$code")"
    done
done | awk '
    !($1 in clips) { order[++codes] = $1 }
    { clips[$1]++; a[$1, $2]++; b[$1, $3]++; clips["all"]++; a["all", $2]++; b["all", $3]++ }
    function row(code) {
        printf "%-16s %8d %16d %5d %5d %16d %5d %5d\n", code, clips[code], a[code, "right"], a[code, "wrong"], a[code, "none"],
            b[code, "right"], b[code, "wrong"], b[code, "none"]
    }
    END { for (i = 1; i <= codes; i++) row(order[i]); row("all") }'
