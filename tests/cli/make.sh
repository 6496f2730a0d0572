#!/bin/sh
# make.sh - Make the inputs of the command-line cases, good ones and broken ones, in a folder.
# usage: make.sh FOLDER
set -eu
cd "$1"

# ---- good ------------------------------------------------------------------------------------------------------

# Samples of one lamp at 50 a second: $1 its name, then lit and dark lengths by turns, in samples.
samples() {
    awk -v name="$1" -v lengths="$2" 'BEGIN {
        n = split(lengths, length_of, " ")
        for (i = 1; i <= n; i++)
            for (j = 0; j < length_of[i]; j++) {
                printf "%.3f,%s,%.3f\n", at / 50, name, (i % 2 ? 0.6 : 0.002) + 0.001 * (at % 3)
                at++
            }
    }'
}

# $1 repeated $2 times.
over() {
    awk -v text="$1" -v count="$2" 'BEGIN { while (count--) printf "%s ", text }'
}

trace() {
    echo time_s,lamp,level
    samples "$@"
}

trace status "$(over '30 10 30 10 10 10 10 10 10 90' 5)" >code.csv
trace status "$(over '10 10' 20)" >blink.csv
trace status "400" >steady.csv
trace status "$(over '10 10 30 10 10 10 10 90' 1) 10 10" >short.csv
{ trace power 400; samples status "$(over '25 25' 8)"; } >two.csv

cat >blink.vcd <<'V'
$timescale 1 ms $end
$scope module board $end
$var wire 1 s status $end
$upscope $end
$enddefinitions $end
#0
0s
V
awk 'BEGIN { for (i = 0; i < 24; i++) printf "#%d\n%ds\n", 100 + 250 * i, (i + 1) % 2; print "#6000" }' >>blink.vcd

cat >tern-t2.yaml <<'Y'
book: tern-t2
board: Tern T2 (invented)
source: invented for these tests
lamps:
  power: {colour: red, shows: 5 V rail}
  status: {colour: green, shows: processor}
timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms, tolerance: 25 %}
codes:
  - id: memory
    lamp: status
    pattern: 2 long 3 short
    means: Memory test failed
    suspect: [memory module, module socket]
    check: [Reseat the module, Fit a module known to be good]
  - {id: running, lamp: status, pattern: blink 2.5 Hz, means: Running}
  - {id: rail-up, lamp: power, pattern: steady on, means: 5 V rail up}
Y

# A picture of 64 x 48 grey pixels with a lamp of level $1 and the noise of frame $2.
picture() {
    awk -v lamp="$1" -v frame="$2" 'BEGIN {
        srand(frame)
        print "P2\n64 48\n255"
        for (y = 0; y < 48; y++) {
            for (x = 0; x < 64; x++)
                printf "%d ", (x - 32) ^ 2 + (y - 24) ^ 2 < 10 ? lamp : 40 + (x * x + y * 13) % 29 + int(4 * rand())
            print ""
        }
    }'
}

mkdir stills
i=0
while [ $i -lt 80 ]; do
    level=40
    [ $((i % 10)) -ge 5 ] || level=230
    picture $level $i >"stills/frame$(printf %03d "$i").pgm"
    i=$((i + 1))
done

# ---- broken ----------------------------------------------------------------------------------------------------

: >empty.mp4
: >empty.csv
: >empty.vcd
: >empty.yaml
echo 'this is a letter, not a clip' >letter.mp4
printf '\000\001\002\003\004\005\006\007\010\011\012\013\014\015\016\017' >noise.mp4
printf '\000\000\000\030ftypmp42\000\000\000\000mp42isom\000\000\004\000mdat\000\000\000\000' >cut.mp4
printf 'GIF89a' >cut.gif
printf '\032\105\337\243' >cut.mkv
printf '\211PNG\r\n\032\n' >cut.png
mkdir nothing pictures
echo x >nothing/readme.txt
echo 'no picture' >pictures/frame001.png
echo 'no picture' >pictures/frame002.png
echo 'no permission' >locked.csv
chmod 000 locked.csv
mkfifo pipe.csv
ln -s loop.mp4 loop.mp4

sed 1d code.csv >headless.csv
sed '1s/level/brightness/' code.csv >column.csv
echo time_s,lamp,level >headed.csv
printf 'time_s,lamp,level\n0,status,bright\n' >word.csv
printf 'time_s,lamp,level\n0,status,nan\n' >nan.csv
printf 'time_s,lamp,level\n0;status;0.5\n' >semicolon.csv
printf 'time_s,lamp,level\n0,status\n' >ragged.csv
printf 'time_s,lamp,level\n0,"status,0.5\n' >quote.csv
printf 'time_s,lamp,level\n0,,0.5\n' >nameless.csv

broken_vcd() {
    sed "$2" blink.vcd >"$1.vcd"
}
broken_vcd untimed '/timescale/d'
broken_vcd scale 's/1 ms/7 ms/'
broken_vcd varless '/var/d; /^[01]s/d'
broken_vcd wide 's/wire 1/wire 8/'
broken_vcd unknown 's/^0s/0z/'
broken_vcd endless '/enddefinitions/,$d'
broken_vcd backwards 's/^#600/#1/'

broken_book() {
    sed "$2" tern-t2.yaml >"$1.yaml"
}
broken_book tabbed 's/^  power/\tpower/'
broken_book keyless 's/means:/meaning:/'
broken_book colourless 's/colour: green/colour: pink/'
broken_book unitless 's/short: 200 ms/short: 200/'
broken_book patternless 's/2 long 3 short/2 lang 3 short/'
broken_book lampless 's/lamp: status/lamp: statis/'
broken_book sourceless '/^source/d'
broken_book twice 's/id: running/id: memory/'
broken_book zero 's/blink 2.5 Hz/blink 0 Hz/'
broken_book codeless '/^codes/,$d'
broken_book named 's/book: tern-t2/book: Tern T2/'
