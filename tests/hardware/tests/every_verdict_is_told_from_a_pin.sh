#!/bin/sh
# every_verdict_is_told_from_a_pin.sh - A code, a blink, steady light, a dark lamp, flicker, what no book has, to 0.2 ms.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-pin" "$programs/hardware-truth" "$lampread"

chip
for verdict in code blink steady-on steady-off flicker unlisted; do
    seconds=$(seconds_of $verdict)
    play 3 "$(light_of $verdict)" $verdict.truth
    sleep 1
    read_live "$chip:3" "$seconds" $verdict.json --book heron-h1
    status=$?
    stop_playing
    claim "$verdict is told" is_told $verdict $pin_tolerance $verdict.truth $verdict.json
    tell_edges "$verdict from a pin" $verdict $pin_tolerance $verdict.truth $verdict.json
    claim "with exit status 0" test $status = 0
done
play 3 "$(light_of blink)" named.truth
sleep 1
read_live photodiode 7 named.json
claim "a line is read by its name" is_told blink $pin_tolerance named.truth named.json
stop_playing
claim "the machine's lines are listed" sh -c "'$lampread' sources | grep -q '$chip.*\|photodiode'"
cp ./*.json ./*.truth "$OUT"
conclude
