#!/bin/sh
# valgrind.sh - Read one capture of each kind of source under valgrind: no error, no leak of ours.
# usage: sh tests/support/valgrind.sh LAMPREAD
set -eu
lampread=$1
project=$(cd "$(dirname "$0")/../.." && pwd)
cd "$project"
# A system library may try the processor, as it is loaded, by an instruction that valgrind does not know.
if valgrind --quiet "$lampread" --version 2>&1 | grep -q 'signal 4 (SIGILL)'; then
    echo "skipped: valgrind does not know an instruction that a library uses on this processor"
    exit 0
fi
# One capture for each ending.
for input in $(ls -d captures/*/input* | grep -v truth | awk -F. '!seen[$NF]++'); do
    options=$(sed -n 's/^read: *//p' "$(dirname "$input")/case.yaml")
    echo "$input"
    # shellcheck disable=SC2086 # options are words
    valgrind --quiet --error-exitcode=9 --leak-check=full --errors-for-leak-kinds=definite \
        "$lampread" read "$input" $options >/dev/null || [ $? -eq 1 ]
done
