#!/bin/sh
# a_camera_that_goes_is_told_and_what_was_kept_plays.sh - Pulled out in the middle, plugged in again; and a stall of 3 s.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-truth" "$lampread" /usr/bin/awk /usr/bin/script

# Beside it stand what was set, that what was seen is told, and what was kept.
is_one_line() { # FILE WORD
    cat "$1"
    [ "$(grep -c "$2" "$1")" = 1 ] && [ "$(grep -c . "$1")" -le 4 ]
}

for format in MJPG YUYV; do
    camera $format -F $format -s 160x120 -l "$(light_of blink)"
    node=$video
    (sleep 6; tell $format unplug) &
    "$lampread" read "$node" --for 60s --keep $format.mkv >/dev/null 2>gone
    status=$?
    claim "$format: a camera that is pulled out ends the reading with status 3" test $status = 3
    claim "$format: one line says so" is_one_line gone "$node"
    within 50 is_not_seen $format
    tell $format plug
    within 50 is_seen $format
    read_live "$(node_of $format)" 6 again.json
    claim "$format: plugged in again it can be read again" "$programs/hardware-truth" -v blink "" again.json
    drop $format
    awk -F, '$1 == 1' $format.frames >first.frames
    claim "$format: what was kept plays to the last second" plays_to_the_end $format.mkv "$(sent_s first.frames)"
done

# On a terminal the drawing is taken away before the line that tells it.
is_told_below_the_drawing() { # FILE
    escape=$(printf '\033')
    tr -d '\r' <"$1" | sed "s/.*$escape\[J//" >undrawn
    grep '^lampread: .* the camera went away' undrawn && ! sed '1,/: the camera went away/d' undrawn | grep watching
}

camera avocet -F MJPG -s 160x120 -l "$(light_of blink)"
(sleep 6; tell avocet unplug) &
script -qec "stty rows 24 cols 80; '$lampread' watch '$video' --keep watched.mkv" /dev/null </dev/null >drawn
status=$?
drop avocet
claim "pulled out while watch draws: status 3" test $status = 3
claim "watch drew" test "$(grep -c "watching $video" drawn)" -gt 5
claim "one line below the drawing says so" is_told_below_the_drawing drawn
claim "what watch kept plays to the last second" plays_to_the_end watched.mkv "$(sent_s avocet.frames)"

camera tern -F YUYV -s 160x120 -l "$(light_of blink)"
(sleep 2; tell tern stall 3000) &
read_live "$video" 12 stall.json
status=$?
drop tern
claim "a stall of 3 s does not end the reading" test $status = 0
claim "nor change its verdict" "$programs/hardware-truth" -v blink "" stall.json
cp ./*.json ./*.frames gone drawn "$OUT"
conclude
