#!/bin/sh
# a_killed_recording_of_a_pin_reads_to_its_edges.sh - What a trace kept of a pin reads as the pin itself, up to the last second.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-pin" "$programs/hardware-truth" "$lampread"

chip
play 3 "$(light_of code)" kept.truth
sleep 1
"$lampread" read "$chip:3" --for 11s --json --book heron-h1 --keep kept.csv >pin.json 2>"$work/told"
claim "a pin that is read is kept in a trace" test -s kept.csv
"$lampread" read kept.csv --json --book heron-h1 >file.json
claim "the trace tells the code, each edge as well known as the pin's" is_told code $pin_tolerance kept.truth file.json
"$lampread" record "$chip:3" -o killed.csv 2>"$work/told" &
recorder=$!
sleep 12
kill -KILL $recorder
wait $recorder 2>/dev/null
stop_playing
claim "a recording that was killed holds all but its last second" plays_to_the_end killed.csv 11.5
"$lampread" read killed.csv --json --book heron-h1 >killed.json
claim "and tells the code" is_told code $pin_tolerance kept.truth killed.json
cp ./*.json ./*.csv ./*.truth "$OUT"
conclude
