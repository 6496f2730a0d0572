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

# The last line of each test. One that ends before it has failed.
conclude() {
    trap - EXIT
    [ "$claims" -gt 0 ] || echo "not ok - nothing was claimed"
    echo "1..$claims"
    exit "$false_claims"
}
trap 'echo "not ok - the test ended before its end"' EXIT

# Have a program's pages in memory. Under virtual time the guest's clock jumps while it waits for the host's files.
warm() { # PROGRAM...
    for program; do
        echo "$program"
        ldd "$program" | grep -o '/[^ ]*'
    done | sort -u | xargs cat >/dev/null
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
            if [ "$(cat "$node/index")" = 0 ]; then
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
    eval "camera_$name=$!"
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
    eval "process=\$camera_$1"
    tell "$1" quit
    wait "$process"
    within 50 is_not_seen "$1"
    rm "$work/$1.fifo"
}

# ---- pins -----------------------------------------------------------------------------------------------------------

# A chip of eight lines. Sets $chip, its name, and $pulls, the folder of what its lines are driven by.
chip() {
    folder=/sys/kernel/config/gpio-sim/bench
    mkdir -p $folder/bank0/line3
    echo 8 >$folder/bank0/num_lines
    echo photodiode >$folder/bank0/line3/name
    echo 1 >$folder/live
    chip=$(cat $folder/bank0/chip_name)
    pulls=/sys/devices/platform/$(cat $folder/dev_name)/$chip
    within 20 test -c "/dev/$chip"
}

# Take the chip away, as when an adapter is pulled out.
drop_chip() {
    echo 0 >/sys/kernel/config/gpio-sim/bench/live
}

pull_of() { # LINE
    echo "$pulls/sim_gpio$1/pull"
}

# Drive a line in the background. Sets $player to the process; the truth is in its file once it has ended.
play() { # LINE SCRIPT SECONDS TRUTH.csv
    "$programs/hardware-pin" "$(pull_of "$1")" "$2" "$3" "$4" &
    player=$!
}
