#!/bin/sh
# a_code_is_told_in_time.sh - Watching, a code is told within one repeat and 100 ms of the light that decides it.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-pin" "$lampread" /usr/bin/awk /usr/bin/gpioinfo

# The guest's time, s, at which each line comes.
stamp() {
    while IFS= read -r line; do
        read -r now _ </proc/uptime
        echo "$now $line"
    done
}

# Two whole repeats decide: the first begins with the first cycle after the light was first seen.
is_in_time() { # NEWS TRUTH.csv SEEN_FROM_S
    awk -v from="$3" '
        FNR == 1 { file++ }
        file == 1 && /"code"/ && /no-boot-medium/ && !told { told = $1 }
        file == 2 && FNR > 1 {
            split($0, part, ",")
            if (part[2] == 1 && (FNR == 2 || part[1] - last > 1.5)) begin[++cycles] = part[1] # after a rest
            last = part[1]
        }
        END {
            cycle = begin[3] - begin[2]
            first = begin[1]
            while (first < from) first += cycle
            decided = first + 2 * cycle
            printf "decided %.2f s after the light was first seen, told %.2f s after that, one repeat is %.2f s\n", decided - from, told - decided, cycle
            exit !(told && cycle > 1 && told <= decided + cycle + 0.1)
        }' "$1" "$2"
}

for format in MJPG YUYV; do
    camera $format -F $format -s 160x120 -l "$(light_of code)"
    "$lampread" watch "$video" --book heron-h1 --for 18s --until code --json 2>told.$format | stamp >$format.news
    drop $format
    claim "from a camera in $format" is_in_time $format.news $format.truth "$(awk -F, 'FNR == 2 { print $3 }' $format.frames)"
done
chip
is_held() {
    gpioinfo "$chip" | grep photodiode | grep -qF '[used]'
}
play 3 "$(light_of code)" pin.truth
"$lampread" watch "$chip:3" --book heron-h1 --for 18s --until code --json 2>told.pin | stamp >pin.news &
watcher=$!
within 100 is_held
read -r from _ </proc/uptime
wait $watcher
stop_playing
claim "from a pin" is_in_time pin.news pin.truth "$from"
cp ./*.news ./*.truth ./*.frames told.* "$OUT"
conclude
