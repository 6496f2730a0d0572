#!/bin/sh
# broken_pictures_do_no_harm.sh - JPEG cut short or damaged now and then: the code is told, or nothing wrong is.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-truth" "$lampread" /usr/bin/awk

for fault in truncate corrupt; do
    camera $fault -F MJPG -s 160x120 -l "$(light_of code)"
    tell $fault $fault 17
    read_live "$video" 11 $fault.json --book heron-h1
    status=$?
    drop $fault
    claim "$fault: the code is told" "$programs/hardware-truth" -v code -e no-boot-medium $fault.truth $fault.json
    claim "$fault: with exit status 0" test $status = 0
done
camera bare -b -F MJPG -s 160x120 -l "$(light_of blink)"
read_live "$video" 7 bare.json
drop bare
claim "JPEG without Huffman tables is read" "$programs/hardware-truth" -v blink "" bare.json
cp ./*.json ./*.frames "$OUT"
conclude
