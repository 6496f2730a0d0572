#!/bin/sh
# run.sh - Install what the tests need, build, and pass them all: the plain build, clang, the sanitizers, valgrind,
# devices of a virtual machine, arm64.
# usage: sh tests/run.sh [BUILD_FOLDER]
# Long tables (accuracy, speed) are not tests: see tests/accuracy and tests/speed.
set -eu
project=$(cd "$(dirname "$0")/.." && pwd)
build=${1:-$project/build}
jobs=$(nproc)

sh "$project/tests/support/install.sh" gcc clang libclang-rt-14-dev libc6-dev cmake ninja-build pkg-config \
    libavformat-dev libavcodec-dev libavutil-dev libswscale-dev libv4l-dev libjpeg62-turbo-dev libgpiod-dev \
    libfyaml-dev libjansson-dev libcairo2-dev \
    check ffmpeg libcw-dev valgrind clang-tidy git gawk python3 python3-yaml mandoc libxml2-utils poppler-utils

say() {
    printf '\n== %s\n' "$*"
}

make_build() { # FOLDER OPTION...
    folder=$1
    shift
    cmake -S "$project" -B "$folder" -G Ninja "$@" >/dev/null
    cmake --build "$folder" -j "$jobs" -- --quiet
}

say "build with gcc, warnings are errors"
CC=gcc make_build "$build/gcc" -DCMAKE_C_FLAGS=-Werror
say "tests"
ctest --test-dir "$build/gcc" --output-on-failure -j "$jobs"

say "build with clang and the address and undefined-behaviour sanitizers, warnings are errors"
CC=clang make_build "$build/clang" -DCMAKE_C_FLAGS=-Werror -DCMAKE_BUILD_TYPE=RelWithDebInfo -DLAMPREAD_SANITIZE=address,undefined
say "tests under the sanitizers (those labelled long, which read hundreds of recordings, weigh memory or lint, ran above)"
LSAN_OPTIONS=suppressions=$project/tests/support/lsan.supp:print_suppressions=0 \
    ctest --test-dir "$build/clang" --output-on-failure -j "$jobs" -LE long

say "valgrind: one decode of each kind of source"
sh "$project/tests/support/valgrind.sh" "$build/gcc/src/lampread"
say "hardware: cameras and pins of a virtual machine"
sh "$project/tests/hardware/run.sh" "$build/gcc"
say "arm64: cross-built, and the captures read under emulation"
sh "$project/tests/cross/arm64.sh" "$build/gcc"
say "all passed"
