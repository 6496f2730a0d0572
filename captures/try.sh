#!/bin/sh
# try.sh - Install what is needed, build lampread and read the shipped clips.
# usage: sh captures/try.sh [BUILD_FOLDER]
set -eu
project=$(cd "$(dirname "$0")/.." && pwd)
build=${1:-$project/build}/try
sh "$project/tests/support/install.sh" gcc libc6-dev cmake ninja-build pkg-config \
    libavformat-dev libavcodec-dev libavutil-dev libswscale-dev libv4l-dev libjpeg62-turbo-dev libgpiod-dev \
    libfyaml-dev libjansson-dev libcairo2-dev
cmake -S "$project" -B "$build" -G Ninja -DBUILD_TESTING=OFF >/dev/null
cmake --build "$build" -- --quiet
cd "$project"
for case in code hand-held flicker; do
    options=$(sed -n 's/^read: *//p' "captures/$case/case.yaml")
    printf '\n$ lampread read captures/%s/input.mp4 %s\n\n' "$case" "$options"
    # shellcheck disable=SC2086 # options are words
    LAMPREAD_BOOKS=codebooks "$build/src/lampread" read "captures/$case/input.mp4" $options
done
