#!/bin/sh
# a_camera_shows_its_lamp.sh - The simulated camera, read without lampread, shows what it writes down that it shows.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-capture" /usr/bin/v4l2-ctl /usr/bin/awk

# Each buffer against the frame of that time: sent when it was stamped, and the light beside the lamp its share of the most.
agree() { # FRAMES CAPTURED LEAST
    awk -F, -v least="$3" '
        FNR == 1 { file++; next }
        file == 1 && $6 == "sent" { sent[++frames] = $3; lit[frames] = $5 }
        file == 2 { stamp[++buffers] = $2; level[buffers] = $4; if ($4 > most) most = $4; if (dark == "" || $4 < dark) dark = $4 }
        END {
            for (i = j = 1; i <= buffers; i++) {
                while (j < frames && sent[j + 1] <= stamp[i] + 0.001) j++
                if (stamp[i] - sent[j] > 0.003 || stamp[i] < sent[j] - 0.001) late++
                share = (level[i] - dark) / (most - dark)
                if (share - lit[j] > 0.12 || lit[j] - share > 0.12) { wrong++; print "frame " j ": " lit[j] " shown, " share " seen" }
                if (lit[j] > 0.05 && lit[j] < 0.95) part++
            }
            print buffers + 0 " buffers of " frames + 0 " frames, " late + 0 " late, " wrong + 0 " wrong, " part + 0 " part-lit, dark " dark ", lit " most
            exit !(buffers >= least && late + 0 == 0 && wrong + 0 == 0 && part > 2)
        }' "$1" "$2"
}

# A script whose lengths meet the frames at every phase.
camera tern -s 320x240,640x480 -l "203 187 611 597"
for format in MJPG YUYV; do
    v4l2-ctl -d "$video" --set-fmt-video=width=320,height=240,pixelformat=$format -c auto_exposure=1,exposure_time_absolute=300
    claim "$format is captured" "$programs/hardware-capture" "$video" $format 150 $format.csv
done
claim "the camera has the sizes it was given" sh -c "v4l2-ctl -d $video --list-formats-ext | grep -c 'Size: Discrete' | grep -qx 4"
drop tern
claim "each frame in MJPEG shows the share of its exposure that the lamp was lit" agree tern.frames MJPG.csv 150
claim "each frame in YUYV does" agree tern.frames YUYV.csv 150

camera bare -b -s 320x240 -l "203 187 611 597"
v4l2-ctl -d "$video" -c auto_exposure=1,exposure_time_absolute=300
claim "JPEG without tables is captured" "$programs/hardware-capture" "$video" MJPG 60 bare.csv
drop bare
claim "it shows the same" agree bare.frames bare.csv 60
cp ./*.csv ./*.frames "$OUT"
conclude
