#!/bin/sh
# large.sh - Inputs made to hurt get one clear line, in little time and little memory.
# usage: large.sh BINARY
set -u
here=$(cd "$(dirname "$0")" && pwd)
binary=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
seconds_most=60
memory_most_kb=400000

work=$(mktemp -d) || exit 2
trap 'rm -rf "$work"' EXIT
trap 'exit 1' HUP INT TERM
cd "$work" || exit 2
LC_ALL=C.UTF-8
export LC_ALL

# Sanitizers take more address space than there is memory; then only the time is watched.
limit="ulimit -v $memory_most_kb"
(eval "$limit" && "$binary" --version) >/dev/null 2>&1 || limit=:
[ "$limit" != : ] || echo "memory is not limited: this build cannot begin with $memory_most_kb KB"

run=0 failed=0
# What an input is called, the status it gets, part of the line it gets (of what is told, where the status is 0 or 1).
expect() { # SENTENCE STATUS PART WORD...
    sentence=$1 status=$2 part=$3
    shift 3
    run=$((run + 1))
    (eval "$limit" && exec timeout "$seconds_most" "$binary" "$@") >out 2>err
    got=$?
    lines=$(wc -l <err)
    said=err
    [ "$status" -gt 1 ] || said=out
    if [ "$got" -ne "$status" ] || ! grep -qF -- "$part" "$said" || { [ "$said" = err ] && [ "$lines" -ne 1 ]; }; then
        failed=$((failed + 1))
        echo "FAILED  $sentence: status $got, expected $status and: $part"
        head -n 5 out err | cut -c 1-200
    fi
    rm -f "$input"
}

trace() { # made by the awk program given; $input is its name
    input=input.csv
    { echo time_s,lamp,level; awk "BEGIN { $1 }"; } >"$input"
}
many() { # TEXT COUNT
    head -c "$2" /dev/zero | tr '\0' "$1"
}

trace 'print "0,a,1"'
many 7 50000000 >>"$input"
expect "a line of 50 MB" 1 "rows left out: 1, first input.csv:3:4097" read "$input"

trace 'print "0,a,0.1\n0.1,a,0.2"; printf "\""'
many '\n' 50000000 >>"$input"
expect "a quote that is never closed" 1 "whose closing" read "$input"

trace 'for (i = 0; i < 100000; i++) print "1,a," i % 2'
expect "times that are all equal" 1 "a: undecided" read "$input"

trace 'for (i = 0; i < 100000; i++) print 5000 - i * 0.02 ",a," i % 2'
expect "times that run back" 3 "goes back in time" read "$input"

trace 'for (i = 0; i < 3000; i++) print i * 0.02 ",a," (i % 20 < 10 ? "1e308" : "-1e308")'
expect "levels of 1e308" 3 "is not a level" read "$input"

trace 'for (i = 0; i < 3000; i++) print i * 0.02 ",a" i ",1"'
expect "3000 lamps" 3 "at most 64" read "$input"

trace 'for (i = 0; i < 300000; i++) print i * 0.001 ",a," int(i / 300) % 2'
expect "300 000 samples" 0 "a: blinks at 1.67 Hz" read "$input"

vcd() { # as trace
    input=input.vcd
    awk "BEGIN { print \"\$timescale 1 us \$end\"; $1 }" >"$input"
}

vcd 'for (i = 0; i < 10000; i++) print "$var wire 1 c" i " led" i " $end"; print "$enddefinitions $end"'
expect "10 000 signals" 3 "at most 64 one-bit signals" read "$input"

vcd 'for (i = 0; i < 10000; i++) print "$var wire 8 c" i " bus" i " $end"
     print "$var wire 1 ! lamp $end $enddefinitions $end #0 0! #1000000 1! #2000000 0! #3000000"'
expect "10 000 signals of eight bits" 1 "signals that are not of one bit and were not read: 10000" read "$input"

vcd 'for (i = 0; i < 100000; i++) print "$scope module m $end"'
expect "100 000 scopes inside each other" 3 "fewer scopes inside each other" read "$input"

vcd 'print "$var wire 1 ! lamp $end $enddefinitions $end #0 0!"
     for (i = 1; i < 300000; i++) print "#" 10 " " i % 2 "!"'
expect "300 000 edges at one time" 1 "lamp: undecided" read "$input"

input=input.vcd
{ printf '$comment '; many x 50000000; } >"$input"
expect "a word of 50 MB" 3 "input.vcd" read "$input"

book() { # as trace
    input=input.yaml
    { printf 'book: b\nboard: B\nsource: ours\n'; awk "BEGIN { $1 }"; } >"$input"
}

book 'print "codes:"; for (i = 0; i < 100000; i++) print "- {}"'
expect "a book of 100 000 entries" 4 "expected at most 4096" book check "$input"

book 'print "codes:"; for (i = 0; i < 100000; i++) print "- {id: c" i ", pattern: flicker, means: M}"'
expect "a book of 4 MB and more" 4 "larger than 4194304 bytes" book check "$input"

book 'printf "codes: "; for (i = 0; i < 100000; i++) printf "["'
expect "lists 100 000 deep" 4 "nested too deeply" book check "$input"

input=input.mp4
{ printf '\000\000\000\030ftypmp42\000\000\000\000mp42isom\377\377\377\377moov'; many '\377' 5000000; } >"$input"
expect "an index that claims 4 GB" 3 "input.mp4" read "$input"

cp "$here/../fuzz/seeds/clip/back.mkv" .
input=back.mkv
expect "a clip whose stamps run back" 1 "pictures left out because they go back in time: 5" read "$input"

echo "$run inputs, $failed failed"
[ "$failed" -eq 0 ]
