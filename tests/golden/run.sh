#!/bin/sh
# run.sh - Read every capture and compare the report with what the capture expects.
# usage: sh tests/golden/run.sh LAMPREAD COMPARE PROJECT_FOLDER
set -u
lampread=$1
compare=$2
project=$3
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
passed=0
failed=0
cd "$project" || exit 1
for case in captures/*/case.yaml; do
    folder=$(dirname "$case")
    input=$(ls -d "$folder"/input* | grep -v truth | head -n 1)
    options=$(sed -n 's/^read: *//p' "$case")
    # shellcheck disable=SC2086 # options are words
    "$lampread" read "$input" $options --json >"$out/actual.json" 2>"$out/said"
    status=$?
    expected=$(sed -n 's/^status: *//p' "$case")
    if [ "$status" = "${expected:-0}" ] && "$compare" "$folder/expect.json" "$out/actual.json" >"$out/differs"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "$folder: status $status (expected ${expected:-0})"
        cat "$out/said" "$out/differs"
    fi
done
echo "$passed passed, $failed failed"
[ "$failed" = 0 ] && [ "$passed" -ge 8 ]
