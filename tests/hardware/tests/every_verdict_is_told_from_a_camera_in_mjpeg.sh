#!/bin/sh
# every_verdict_is_told_from_a_camera_in_mjpeg.sh - A code, a blink, steady light, a dark lamp, flicker, what no book has.
format=MJPG
. "$PROJECT/tests/hardware/verdicts.sh"
