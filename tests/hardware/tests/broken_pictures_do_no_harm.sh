#!/bin/sh
# broken_pictures_do_no_harm.sh - JPEG cut short or damaged now and then: the code is told, or nothing wrong is.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-truth" "$lampread" /usr/bin/awk

is_right() { # FAULT
    "$programs/hardware-truth" -v code -e no-boot-medium "" "$1.json"
}

# Thin evidence may leave it undecided.
is_not_wrong() { # FAULT
    is_right "$1" || "$programs/hardware-truth" -v undecided "" "$1.json"
}

for fault in truncate corrupt; do
    camera $fault -F MJPG -s 160x120 -l "$(light_of code)"
    tell $fault $fault 17
    read_live "$video" 11 $fault.json --book heron-h1
    drop $fault
    claim "$fault: nothing wrong is told" is_not_wrong $fault
done
claim "the code is told where pictures are cut short" is_right truncate
claim "the code is told where pictures are damaged" is_right corrupt
camera bare -b -F MJPG -s 160x120 -l "$(light_of blink)"
read_live "$video" 7 bare.json
drop bare
claim "JPEG without Huffman tables is read" "$programs/hardware-truth" -v blink "" bare.json
cp ./*.json ./*.frames "$OUT"
conclude
