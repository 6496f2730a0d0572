#!/bin/sh
# a_pin_gives_the_edges_it_was_fed.sh - The kernel's stamps of a simulated line's edges are those of its script.
. "$PROJECT/tests/hardware/bench.sh"
warm "$programs/hardware-pin" /usr/bin/gpiomon /usr/bin/gpioinfo /usr/bin/awk

# Each edge that was seen against the one that was fed, in the same order; the farthest apart may be so many ms.
agree() { # TRUTH.csv SEEN MOST_MS
    awk -v most="$3" '
        FNR == 1 { file++ }
        file == 1 && FNR > 1 { split($0, part, ","); t[++fed] = part[1]; lit[fed] = part[2] }
        file == 2 {
            seen++
            off = 1000 * ($2 - t[seen]) + $3 / 1e6
            if ($1 != lit[seen]) wrong++
            sum += off; sum2 += off * off
            if (off < 0) off = -off
            if (off > far) far = off
        }
        END {
            if (seen) mean = sum / seen
            if (seen) sd = sqrt((sum2 / seen - mean * mean) > 0 ? sum2 / seen - mean * mean : 0)
            printf "%d edges fed, %d seen, %d wrong, mean %.4f ms, SD %.4f ms, most %.4f ms\n", fed, seen, wrong, mean, sd, far
            exit !(fed == seen && seen > 10 && !wrong && far < most)
        }' "$1" "$2"
}

is_held() {
    gpioinfo "$chip" | grep photodiode | grep -qF '[used]'
}

chip
for lengths in "200 200 600 200 200 1800" "20 30" "3 2"; do
    echo pull-down >"$(pull_of 3)"
    name=$(echo "$lengths" | tr ' ' -)
    timeout 60 gpiomon --format='%e %s %n' "$chip" 3 >"$name.seen" &
    listener=$!
    within 50 is_held
    play 3 "$lengths" "$name.truth" 8
    wait $player
    sleep 0.1
    kill -INT $listener
    wait $listener 2>/dev/null
    claim "edges of $lengths ms are stamped within 0.1 ms" agree "$name.truth" "$name.seen" 0.1
done
claim "a line is found by its name" sh -c "gpiofind photodiode | grep -qx '$chip 3'"

timeout 20 gpiomon "$chip" 3 >/dev/null 2>gone &
listener=$!
within 50 is_held
drop_chip
wait $listener
claim "a chip that is taken away ends its reader" grep -q "No such device" gone
cp ./*.truth ./*.seen "$OUT"
conclude
