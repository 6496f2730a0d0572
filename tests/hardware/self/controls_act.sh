#!/bin/sh
# controls_act.sh - The controls of the simulated camera change its pictures, and it tells its own values.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-webcam" "$programs/hardware-capture" /usr/bin/v4l2-ctl /usr/bin/awk

is_at() { # CONTROL VALUE
    controls tern | tee said.controls | grep -qx "$1 $2 .*"
}

# Mean light beside the lamp over a few frames, in thousandths.
light_with() { # CONTROLS
    v4l2-ctl -d "$video" -c "$1"
    "$programs/hardware-capture" "$video" MJPG 10 light.csv
    awk -F, 'FNR > 3 { sum += $4; n++ } END { print int(1000 * sum / n) }' light.csv
}

camera tern
claim "it chooses its exposure at first" is_at auto_exposure 8
claim "its white balance too" is_at white_balance_automatic 1
plain=$(light_with auto_exposure=1,exposure_time_absolute=156,gain=64)
claim "what is set arrives" is_at exposure_time_absolute 156
claim "an exposure of half the length gives less light" test "$(light_with exposure_time_absolute=78)" -lt "$((plain * 7 / 10))"
claim "more gain gives more" test "$(light_with gain=128)" -gt "$((plain * 8 / 10))"
claim "brightness lifts all" test "$(light_with exposure_time_absolute=156,gain=64,brightness=158)" -gt "$((plain * 11 / 10))"
light_with white_balance_automatic=0,white_balance_temperature=6500 >/dev/null
claim "white balance can be set by hand" is_at white_balance_temperature 6500
light_with auto_exposure=3 >/dev/null
claim "left to itself it gives way to the lit lamp" test "$(controls tern | sed -n 's/^exposure_time_absolute \([0-9]*\) .*/\1/p')" -lt 150
drop tern

camera dim -r 0.3
v4l2-ctl -d "$video" -c auto_exposure=3,exposure_dynamic_framerate=1
"$programs/hardware-capture" "$video" MJPG 30 slow.csv
v4l2-ctl -d "$video" -c exposure_dynamic_framerate=0
"$programs/hardware-capture" "$video" MJPG 30 fast.csv
took() {
    awk -F, 'FNR == 5 { from = $2 } { to = $2 } END { print int(1000 * (to - from)) }' "$1"
}
claim "in a dim room the rate halves where the exposure goes before it" test "$(took slow.csv)" -gt "$(($(took fast.csv) * 18 / 10))"
drop dim
cp ./*.csv ./*.controls "$OUT"
conclude
