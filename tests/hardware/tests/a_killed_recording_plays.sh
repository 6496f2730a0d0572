#!/bin/sh
# a_killed_recording_plays.sh - What SIGKILL cut off is there up to the last second, from a camera and from a pin.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-pin" "$programs/hardware-truth" "$lampread" /usr/bin/awk

lasts() { # FILE LEAST_S VERDICT
    "$lampread" read "$1" --json >kept.json 2>kept.told
    cat kept.told
    awk -v kept="$(sed -n 's/.*"duration_s": *\([0-9.]*\).*/\1/p' kept.json | head -n 1)" -v least="$2" \
        'BEGIN { print kept " s kept of " least + 1; exit !(kept + 0 >= least) }' && "$programs/hardware-truth" -v "$3" "" kept.json
}

# Record for 8 s, then be killed.
record() { # SOURCE FILE
    "$lampread" record "$1" -o "$2" >told 2>&1 &
    recorder=$!
    sleep 8
    kill -KILL $recorder
    wait $recorder
}

for format in MJPG YUYV; do
    camera $format -F $format -s 160x120 -l "$(light_of blink)"
    record "$video" $format.mkv
    drop $format
    claim "a film in $format plays, and blinks" lasts $format.mkv 6.5 blink
    claim "the trace beside it is one that can be read" sh -c "ls $format*.csv && '$lampread' read $format*.csv"
done
chip
for file in pin.vcd pin.csv; do
    play 3 "$(light_of blink)" $file.truth
    record "$chip:3" $file
    stop_playing
    claim "a pin's $file can be read, and blinks" lasts $file 6.5 blink
done
cp ./*.json ./*.csv ./*.vcd told "$OUT"
conclude
