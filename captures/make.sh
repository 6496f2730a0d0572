#!/bin/sh
# make.sh - Render the captures anew: each is an invented board seen by an imagined camera.
# usage: sh captures/make.sh LAMPREAD
# The clip encoder's version shows in the bytes, not in what is read. expect.json and ABOUT.md are written by hand.
set -eu
lampread=$1
LAMPREAD_BOOKS=$(cd "$(dirname "$0")/../codebooks" && pwd)
export LAMPREAD_BOOKS
cd "$(dirname "$0")"

make() { # CASE FILE WHAT... [OPTION]...
    mkdir -p "$1"
    file=$1/$2
    shift 2
    "$lampread" render "$@" -o "$file"
}

make code input.mp4 heron-h1:memory --lamp status=green@392,182 --lamp power=red@250,120 \
    --for 20s --start-phase '40 %' --seed 3 -q 40
make two-digit-code input.mp4 "heron-h1:watchdog" --lamp status=green@300,200 \
    --for 17s --start-phase '70 %' --speed '107 %' --seed 8 -q 40
make regular-blink input.mp4 canopen:run-blinking --lamp run=green@340,150 \
    --for 8s --seed 5 -q 40
make steady input.mp4 'steady on' 'steady on' --lamp status=green@240,140 --lamp power=red@420,220 \
    --for 4s --shake 2 --seed 6 -q 40
make flicker input.mp4 flicker --lamp status=green@310,190 \
    --for 12s --seed 11 -q 40
make sagging-supply input.mp4 sag --lamp power=red@280,160 \
    --for 10s --seed 4 -q 40
make two-lamps input.mp4 plover-p2:fault-23 plover-p2:idle --lamp fault=orange@220,130 --lamp run=green@410,230 \
    --for 20s --seed 9 -q 40
make hand-held input.mp4 heron-h1:supply-low --lamp status=green@330,170 \
    --for 18s --start-phase '25 %' --shake 6 --ambient '3 %' --noise 3 --auto-exposure '60 %' --drop '4 %' \
    --ripple 100Hz --exposure 20ms --seed 12 -q 35
make unlisted input.mp4 '3 long 4 short' --lamp status=green@360,210 \
    --for 20s --seed 13 -q 40
make too-short input.mp4 heron-h1:too-hot --lamp status=green@360,210 \
    --for 4s --seed 14 -q 40
make photodiode input.vcd heron-h1:help --for 40s --start-phase '30 %' --jitter '2 %' --seed 15
make fade input.csv 'fade 3 s' --for 15s --seed 16
