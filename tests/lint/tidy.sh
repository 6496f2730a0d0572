#!/bin/sh
# tidy.sh - clang-tidy over every source file, with the checks of .clang-tidy.
# usage: sh tests/lint/tidy.sh PROJECT_FOLDER BUILD_FOLDER
# One file a process: clang-tidy 14 carries false warnings about va_list from one file to the next. Assertions stand, so
# that it knows what they say.
set -eu
cd "$1"
command -v clang-tidy >/dev/null || { echo "skipped: clang-tidy is not installed"; exit 0; }
# Only what this build is made of: of files for two versions of a library the other cannot be read here.
find src -name '*.c' | sort | while read -r file; do
    if grep -q "/$file\"" "$2/compile_commands.json"; then
        echo "$file"
    fi
done |
    xargs -P "$(nproc)" -n 1 clang-tidy -p "$2" --quiet --extra-arg=-UNDEBUG 2>/dev/null
