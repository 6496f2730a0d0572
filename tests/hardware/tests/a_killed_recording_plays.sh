#!/bin/sh
# a_killed_recording_plays.sh - What SIGKILL cut off is there up to the last second, from a camera and from a pin.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-pin" "$programs/hardware-truth" "$lampread" /usr/bin/awk

blinks() { # FILE
    "$lampread" read "$1" --json >kept.json 2>kept.told
    cat kept.told
    "$programs/hardware-truth" -v blink "" kept.json
}

# Record for 7 s, then be killed.
record() { # SOURCE FILE
    "$lampread" record "$1" -o "$2" >told 2>&1 &
    recorder=$!
    within 100 test -s "$2"
    sleep 7
    kill -KILL $recorder
    { wait $recorder; } 2>/dev/null
}

for format in MJPG YUYV; do
    camera $format -F $format -s 160x120 -l "$(light_of blink)"
    record "$video" $format.mkv
    drop $format
    for file in $format.mkv $format.csv; do
        claim "$file plays to the last second" plays_to_the_end $file "$(sent_s $format.frames)"
        claim "$file blinks" blinks $file
    done
done
chip
play 3 "$(light_of blink)" pin.truth
record "$chip:3" pin.vcd
stop_playing
claim "a pin's edges do too" blinks pin.vcd
cp ./*.json ./*.csv ./*.vcd told "$OUT"
conclude
