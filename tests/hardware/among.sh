#!/bin/sh
# among.sh - In the guest: run the tests one after another, each in a process and a folder of its own.
# usage: PROJECT=FOLDER BUILD=FOLDER RESULTS=FOLDER sh tests/hardware/among.sh TEST.sh...
for test; do
    name=$(basename "$test" .sh)
    OUT=$RESULTS/$name
    mkdir -p "$OUT"
    echo "# $name" | tr _ ' '
    PROJECT=$PROJECT BUILD=$BUILD OUT=$OUT sh "$test" </dev/null
    echo "# end"
done
