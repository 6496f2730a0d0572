#!/bin/sh
# Whole-process speed and memory of lampread against bare decoding of the same clip. Prints a table, judges nothing.
# usage: speed.sh BUILD-FOLDER [ROUNDS]
set -eu

build=${1:?usage: speed.sh BUILD-FOLDER [ROUNDS]}
rounds=${2:-3}
speed=$build/tests/speed-speed
lampread=$build/src/lampread
for program in "$speed" "$lampread"; do
    [ -x "$program" ] || { echo "speed.sh: $program is missing: build first" >&2; exit 2; }
done
command -v ffmpeg >/dev/null || { echo "skipped: ffmpeg is not installed, so no long clip can be joined"; exit 0; }

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT INT TERM
"$speed" make "$folder/10s.mp4" 10
ffmpeg -v error -stream_loop 5 -i "$folder/10s.mp4" -c copy "$folder/1min.mp4"
ffmpeg -v error -stream_loop 59 -i "$folder/10s.mp4" -c copy "$folder/10min.mp4"

# The least of several rounds of each column: what else the machine does only adds.
least() {
    i=0
    while [ "$i" -lt "$1" ]; do
        i=$((i + 1))
        "$speed" measure "$2" "$3" "$4"
    done | awk '{ for (i = 1; i <= 3; i++) if (NR == 1 || $i < least[i]) least[i] = $i }
                END { printf "%.2f %.2f %.1f\n", least[1], least[2], least[3] }'
}

echo "1920 x 1080, 30 frames a second, H.264, hand-held, $(nproc) cores; least of several rounds"
echo "clip    rounds  decode_wall_s  decode_cpu_s  read_wall_s  read_cpu_s  wall_ratio  cpu_ratio  decode_mb  read_mb"
for clip in 1min 10min; do
    times=$rounds
    [ "$clip" = 10min ] && times=1
    bare=$(least "$times" "$speed" decode "$folder/$clip.mp4")
    read=$(least "$times" "$lampread" read "$folder/$clip.mp4")
    echo "$clip $times $bare $read" | awk '{ printf "%-7s %6d %14.2f %13.2f %12.2f %11.2f %11.2f %10.2f %10.1f %8.1f\n",
        $1, $2, $3, $4, $6, $7, $6 / $3, $7 / $4, $5, $8 }'
done
