#!/bin/sh
# a_pin_is_read_in_real_time.sh - The clock of the host instead of the guest's own, which is never late.
# clock: real
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-pin" "$programs/hardware-truth" "$lampread"

# The player itself may wake late on a busy host.
real_tolerance=30,3

chip
play 3 "$(light_of code)" code.truth
sleep 1
read_live "$chip:3" 11 code.json --book heron-h1
stop_playing
claim "a code is told" is_told code $real_tolerance code.truth code.json
tell_edges "code from a pin, real time" code $real_tolerance code.truth code.json
cp ./*.json ./*.truth "$OUT"
conclude
