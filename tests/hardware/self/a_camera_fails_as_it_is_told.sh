#!/bin/sh
# a_camera_fails_as_it_is_told.sh - Faults on command reach a reader as those of real cameras do.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-capture" /usr/bin/v4l2-ctl /usr/bin/awk

capture() { # NODE FORMAT FRAMES FILE STATUS
    "$programs/hardware-capture" "$1" "$2" "$3" "$4"
    test $? = "$5"
}

# How many values of a column are so.
count() { # FILE CONDITION
    awk -F, 'FNR > 1 { if (FNR > 2) { gap = $1 - last; apart = $2 - stamp } last = $1; stamp = $2; if (FNR > 2 && ('"$2"')) n++ } END { print n + 0 }' "$1"
}

camera tern -l "200 200"
v4l2-ctl -d "$video" -c auto_exposure=1,exposure_time_absolute=156
tell tern error 10
claim "frames with the error bit" capture "$video" MJPG 60 error.csv 0
claim "are kept back by the driver, which counts them" test "$(count error.csv 'gap == 2')" -ge 5
tell tern error 0
tell tern lose 10
claim "lost frames" capture "$video" MJPG 60 lose.csv 0
claim "show in the stamps alone" test "$(count lose.csv 'gap == 1 && apart > 0.06')" -ge 5
tell tern lose 0
tell tern truncate 10
claim "truncated JPEG" capture "$video" MJPG 60 truncate.csv 0
claim "comes through and cannot be decoded whole" test "$(count truncate.csv '$4 < 0')" -ge 5
tell tern truncate 0
tell tern corrupt 10
claim "corrupted JPEG" capture "$video" MJPG 60 corrupt.csv 0
claim "comes through at its full size" test "$(count corrupt.csv '$3 < 12000')" = 0
claim "and cannot be decoded" test "$(count corrupt.csv '$4 < 0')" -ge 4
tell tern corrupt 0
tell tern short 10
claim "short frames of YUYV" capture "$video" YUYV 60 short.csv 0
claim "are kept back by the driver" test "$(count short.csv 'gap == 2')" -ge 5
tell tern short 0
(sleep 1; tell tern stall 3000) &
claim "a reader that waits 2 s sees a stall of 3 s" capture "$video" MJPG 200 stall.csv 4
sleep 3
(sleep 1; tell tern unplug) &
claim "a camera that is pulled out ends its reader" capture "$video" MJPG 200 unplug.csv 3
claim "within a frame of the moment" test "$(($(wc -l <unplug.csv)))" -ge 25
claim "its node goes" within 20 is_not_seen tern
tell tern plug
claim "and comes back" within 50 is_seen tern
claim "to be read again" capture "$(node_of tern)" MJPG 30 again.csv 0
drop tern

camera tern
camera wren
claim "two cameras are there at once" test "$(node_of tern)" != "$(node_of wren)"
capture "$(node_of tern)" MJPG 60 one.csv 0 &
one=$!
claim "one is read" capture "$(node_of wren)" YUYV 60 two.csv 0
claim "while the other is" wait $one
drop tern
drop wren
cp ./*.csv ./*.frames "$OUT"
conclude
