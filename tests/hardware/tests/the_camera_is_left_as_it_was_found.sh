#!/bin/sh
# the_camera_is_left_as_it_was_found.sh - Controls are put back after a normal end, after SIGTERM, and by the next run after SIGKILL.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$lampread" /usr/bin/v4l2-ctl /usr/bin/awk

# What the camera chooses by itself is no setting: it is where it is.
settings() {
    if controls tern | grep -qx 'auto_exposure 8 .*'; then
        grep -v '^exposure_time_absolute' tern.controls
    else
        cat tern.controls
    fi | grep -v '^white_balance_temperature'
}

is_as_before() {
    settings >after
    diff before after
}

is_changed() {
    ! is_as_before >/dev/null
}

# Read until a signal comes, and look at the settings meanwhile.
read_until() { # SIGNAL
    "$lampread" read "$video" --for 60s --json >/dev/null 2>told &
    reader=$!
    claim "while it reads, the exposure is held" within 50 is_changed
    kill -"$1" $reader
    { wait $reader; } 2>/dev/null
}

try_all() { # WHAT
    settings >before
    read_live "$video" 3 end.json
    claim "$1: all is as before after a normal end" is_as_before
    read_until TERM
    claim "$1: after SIGTERM" is_as_before
    read_until KILL
    claim "$1: not after SIGKILL" is_changed
    "$lampread" sources >/dev/null 2>&1
    read_live "$video" 2 next.json
    claim "$1: but after the next run" is_as_before
}

camera tern -F YUYV -s 160x120 -l "$(light_of blink)"
try_all "a camera that chooses for itself"
v4l2-ctl -d "$video" -c auto_exposure=1,exposure_time_absolute=250,gain=100,white_balance_automatic=0,power_line_frequency=1
v4l2-ctl -d "$video" -c white_balance_temperature=3300
try_all "a camera that was set by hand"
drop tern
cp before after ./*.frames told "$OUT"
conclude
