#!/bin/sh
# two_cameras_are_told_apart.sh - Both are listed, and read at the same time.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-truth" "$lampread"

"$lampread" sources >none 2>&1
claim "without any, that is said with exit status 3" test $? = 3
camera tern -F YUYV -s 160x120 -l "$(light_of blink)"
camera wren -F MJPG -s 160x120 -l on
"$lampread" sources >sources 2>&1
claim "with two, the exit status is 0" test $? = 0
claim "one is listed" grep -q "$(node_of tern).*tern" sources
claim "the other is" grep -q "$(node_of wren).*wren" sources
"$lampread" sources --json >sources.json
claim "for programs too" sh -c 'grep -q tern sources.json && grep -q wren sources.json'
"$lampread" read "$(node_of tern)" --for 7s --json >tern.json 2>told.tern &
reader=$!
read_live "$(node_of wren)" 7 wren.json
wait $reader
drop tern
drop wren
claim "one blinks" "$programs/hardware-truth" -v blink "" tern.json
claim "while the other is steady" "$programs/hardware-truth" -v steady-on "" wren.json
cp sources ./*.json "$OUT"
conclude
