#!/bin/sh
# every_verdict_is_told_from_a_camera_in_yuyv.sh - The same as in MJPEG.
format=YUYV
. "$PROJECT/tests/hardware/verdicts.sh"
