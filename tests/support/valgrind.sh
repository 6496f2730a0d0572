#!/bin/sh
# valgrind.sh - Read one capture of each kind of source under valgrind: no error, no leak of ours.
# usage: sh tests/support/valgrind.sh LAMPREAD
set -eu
lampread=$1
project=$(cd "$(dirname "$0")/../.." && pwd)
cd "$project"
# One capture for each ending.
for input in $(ls -d captures/*/input* | grep -v truth | awk -F. '!seen[$NF]++'); do
    options=$(sed -n 's/^read: *//p' "$(dirname "$input")/case.yaml")
    echo "$input"
    # shellcheck disable=SC2086 # options are words
    valgrind --quiet --error-exitcode=9 --leak-check=full --errors-for-leak-kinds=definite \
        "$lampread" read "$input" $options >/dev/null || [ $? -eq 1 ]
done
