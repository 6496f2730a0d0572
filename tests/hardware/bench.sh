# bench.sh - What a test may do in the guest: claims, cameras, pins. Sourced by each test, with BUILD, PROJECT and OUT set.

programs=$BUILD/tests
lampread=$BUILD/src/lampread
work=$(mktemp -d)
cd "$work" || exit 1
LAMPREAD_BOOKS=$PROJECT/codebooks
LC_ALL=C.UTF-8
HOME=$work
export LAMPREAD_BOOKS LC_ALL HOME

claims=0 false_claims=0

# Say whether a command bears a sentence out; what it printed, if it does not. Results come as TAP.
claim() { # SENTENCE COMMAND...
    sentence=$1
    shift
    claims=$((claims + 1))
    if "$@" >"$work/said" 2>&1; then
        echo "ok $claims - $sentence"
    else
        echo "not ok $claims - $sentence"
        sed 's/^/#   /' "$work/said" | head -n "${claim_lines:-8}"
        false_claims=$((false_claims + 1))
    fi
}

# The same for what ought to be and is not yet: said, and no failure.
hope() { # SENTENCE COMMAND...
    sentence=$1
    shift
    claims=$((claims + 1))
    if "$@" >"$work/said" 2>&1; then
        echo "ok $claims - $sentence"
    else
        echo "not ok $claims - $sentence # TODO"
    fi
}

# Leave the guest as it was found: the next test is run in it too.
clear_bench() {
    pids=$(jobs -p)
    [ -z "$pids" ] || kill $pids 2>/dev/null
    wait
    [ ! -d "$gpio_sim" ] || drop_chip
    cd / && rm -rf "$work"
}

# The last line of each test. One that ends before it has failed.
conclude() {
    trap - EXIT
    clear_bench
    [ "$claims" -gt 0 ] || echo "not ok - nothing was claimed"
    echo "1..$claims"
    exit "$false_claims"
}
trap 'echo "not ok - the test ended before its end"; clear_bench' EXIT

# Have all that programs read in memory. Under virtual time the guest's clock jumps while it waits for the host's files.
warm() { # PROGRAM...
    for program; do
        echo "$program"
        ldd "$program" | grep -o '/[^ ]*'
    done | sort -u | xargs cat >/dev/null
    case $* in
    *"$lampread"*) warm_lampread ;;
    esac
}

# Its books, its locale, and whatever else it looks for.
warm_lampread() {
    awk 'BEGIN { print "time_s,lamp,level"; for (i = 0; i < 200; i++) printf "%.2f,status,%d\n", i / 20, int(i / 5) % 2 }' >warm.csv
    for turn in 1 2; do
        "$lampread" read warm.csv --book heron-h1 --json >/dev/null 2>&1
        "$lampread" sources >/dev/null 2>&1
    done
    rm warm.csv
}

within() { # TENTHS_OF_SECONDS COMMAND...: try until it succeeds
    tries=$1
    shift
    until "$@"; do
        tries=$((tries - 1))
        [ "$tries" -gt 0 ] || return 1
        sleep 0.1
    done
}

# ---- cameras --------------------------------------------------------------------------------------------------------

# The node that gives pictures, not the one that gives what it tells of them.
node_of() { # NAME
    for node in /sys/class/video4linux/*; do
        if [ "$(cat "$node/name" 2>/dev/null)" = "$1: $1" ] || [ "$(cat "$node/name" 2>/dev/null)" = "$1" ]; then
            if [ "$(cat "$node/index" 2>/dev/null)" = 0 ]; then
                echo "/dev/${node##*/}"
                return 0
            fi
        fi
    done
    return 1
}

is_seen() {
    node_of "$1" >/dev/null && [ -c "$(node_of "$1")" ]
}

is_not_seen() {
    ! is_seen "$1"
}

# Plug a camera in: NAME.frames and NAME.truth are there once it was dropped. Sets $video to its node.
camera() { # NAME OPTION...
    name=$1
    shift
    "$programs/hardware-webcam" -n "$name" -C "$work/$name.fifo" -f "$work/$name.frames" -t "$work/$name.truth" "$@" &
    echo $! >"$work/$name.process"
    within 100 is_seen "$name" || { dmesg | tail -n 5; exit 1; }
    within 20 test -p "$work/$name.fifo"
    video=$(node_of "$name")
}

tell() { # NAME COMMAND...
    name=$1
    shift
    echo "$*" >"$work/$name.fifo"
}

# What the camera itself has its controls at.
controls() { # NAME
    rm -f "$work/$1.controls"
    tell "$1" controls "$work/$1.controls"
    within 20 test -f "$work/$1.controls"
    cat "$work/$1.controls"
}

drop() { # NAME
    tell "$1" quit
    wait "$(cat "$work/$1.process")"
    within 50 is_not_seen "$1"
    rm "$work/$1.fifo"
}

# ---- pins -----------------------------------------------------------------------------------------------------------

gpio_sim=/sys/kernel/config/gpio-sim/bench

# A chip of eight lines. Sets $chip, its name, and $pulls, the folder of what its lines are driven by.
chip() {
    mkdir -p $gpio_sim/bank0/line3
    echo 8 >$gpio_sim/bank0/num_lines
    echo photodiode >$gpio_sim/bank0/line3/name
    echo 1 >$gpio_sim/live
    chip=$(cat $gpio_sim/bank0/chip_name)
    pulls=/sys/devices/platform/$(cat $gpio_sim/dev_name)/$chip
    within 20 test -c "/dev/$chip"
}

# Take the chip away, as when an adapter is pulled out.
drop_chip() {
    echo 0 >$gpio_sim/live
    rmdir $gpio_sim/bank0/line3 $gpio_sim/bank0 $gpio_sim
}

pull_of() { # LINE
    echo "$pulls/sim_gpio$1/pull"
}

# Drive a line in the background, until it is stopped or for so long. Sets $player to the process. The truth is there at once.
play() { # LINE SCRIPT TRUTH.csv [SECONDS]
    "$programs/hardware-pin" "$(pull_of "$1")" "$2" "${4:-1000}" "$3" &
    player=$!
    within 20 test -f "$3"
}

stop_playing() {
    kill $player
    wait $player 2>/dev/null
}

# ---- lights, and what is told of them -------------------------------------------------------------------------------

# Lengths 3 % off the book's, and no whole number of frames, so that edges meet exposures at every phase.
light_of() { # VERDICT
    case $1 in
    code) echo "206 206 206 206 206 206 206 1854" ;; # no-boot-medium of the book heron-h1: 4 short
    unlisted) echo "206 206 618 206 206 1854" ;;
    blink) echo "311 283" ;;
    flicker) echo "flicker 7" ;;
    steady-on) echo on ;;
    steady-off) echo off ;;
    esac
}

entry_of() { # VERDICT
    [ "$1" = code ] && echo no-boot-medium
}

# Long enough for two whole repeats from anywhere in the cycle, or for the dark not to be one of its rests.
seconds_of() { # VERDICT
    case $1 in
    code | unlisted | flicker) echo 11 ;;
    *) echo 7 ;;
    esac
}

flashes_of() { # VERDICT: the fewest that must be read
    case $1 in
    code | flicker) echo 8 ;;
    unlisted | blink) echo 6 ;;
    esac
}

# Read live, for programs. What it says to people is kept apart, in told.
read_live() { # SOURCE SECONDS REPORT.json OPTION...
    source=$1 seconds=$2 report=$3
    shift 3
    "$lampread" read "$source" --for "${seconds}s" --json "$@" >"$report" 2>"$work/told"
}

# An edge that falls between two exposures may be anywhere there: half a frame and 2 ms either way. With an exposure of 8 ms at
# 30 frames a second that is an SD of 7 ms, of the mean length of ten flashes 3 ms, three times that are allowed. Edges of a
# pin are stamped within 0.1 ms, and told so.
camera_tolerance=18.7,9
pin_tolerance=0.2,0.1

# Whether a report has the verdict, the entry and the flashes of its light.
is_told() { # VERDICT TOLERANCE TRUTH.csv REPORT.json
    entry=$(entry_of "$1")
    flashes=$(flashes_of "$1")
    "$programs/hardware-truth" -v "$1" ${entry:+-e "$entry"} ${flashes:+-f "$flashes"} -t "$2" "$3" "$4"
}

# One row of the table of edges, for who reads the output.
tell_edges() { # WHAT VERDICT TOLERANCE TRUTH.csv REPORT.json
    what=$1
    shift
    [ -z "$(flashes_of "$1")" ] || echo "#   $what: $(is_told "$@" | tail -n 1)"
}

# How long a camera sent, s.
sent_s() { # FRAMES.csv
    awk -F, '$6 == "sent" { if (!from) from = $3; to = $3 } END { print to - from }' "$1"
}

# Whether what was kept of that time lacks less than its last second.
plays_to_the_end() { # FILE SENT_S
    kept=$("$lampread" read "$1" --json 2>/dev/null | sed -n 's/.*"duration_s": *\([0-9.]*\).*/\1/p' | head -n 1)
    awk -v kept="$kept" -v sent="$2" 'BEGIN { print kept " s kept of " sent " s"; exit !(kept > sent - 1 && kept < sent + 1) }'
}
