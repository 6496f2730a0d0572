#!/bin/sh
# lost_frames_are_noticed.sh - Frames that the camera or the driver lost are counted, and the code is still the right one.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-truth" "$lampread" /usr/bin/awk

# Frames that did not come, among those that the camera sent from the first to the last.
lost_of() { # FRAMES.csv
    awk -F, '$6 == "lost" || $6 == "error" { n++ } END { print n + 0 }' "$1"
}

dropped_of() { # REPORT.json
    sed -n 's/.*"dropped": *\([0-9]*\).*/\1/p' "$1" | head -n 1
}

# The stream begins before the report does, and ends after it: a frame or two are no matter.
is_near() { # COUNT TRUE_COUNT
    echo "$1 told, $2 lost"
    [ "$1" -ge $(($2 - 3)) ] && [ "$1" -le $(($2 + 3)) ]
}

for fault in lose error; do
    camera $fault -F YUYV -s 160x120 -l "$(light_of code)"
    tell $fault $fault 13
    read_live "$video" 11 $fault.json --book heron-h1
    drop $fault
    # What the driver throws away leaves a gap in its count; what the camera never sent only shows in the stamps.
    claim "frames missing by '$fault' are counted" is_near "$(dropped_of $fault.json)" "$(lost_of $fault.frames)"
    claim "the code is told all the same" "$programs/hardware-truth" -v code -e no-boot-medium $fault.truth $fault.json
done
cp ./*.json ./*.frames "$OUT"
conclude
