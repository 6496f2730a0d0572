#!/bin/sh
# run.sh - Test against the kernel's own devices: boot a guest that has simulated cameras and GPIO lines, and run the tests there.
# usage: sh tests/hardware/run.sh [--self] BUILD_FOLDER [TEST.sh]...
#   --self  check only the machinery: the simulated devices against what other programs read of them;
#           so it is too where lampread does not read devices yet
# LAMPREAD_VM_CACHE: the folder that keeps the guest, default hardware/guest in the build folder; made in 2 min, then kept.
# Where the guest cannot be had it says "skipped" and passes.
set -u
here=$(cd "$(dirname "$0")" && pwd)
project=$(cd "$here/../.." && pwd)
kind=tests
[ "${1:-}" != --self ] || { kind=self; shift; }
[ $# -ge 1 ] || { sed -n 3p "$0" >&2; exit 2; }
build=$(cd "$1" && pwd) || exit 2
shift
"$build/src/lampread" sources --help >/dev/null 2>&1 || kind=self
for test; do
    [ -f "$test" ] || { echo "run.sh: no test '$test', expected a script as in $here/$kind" >&2; exit 2; }
done
cache=${LAMPREAD_VM_CACHE:-$build/hardware/guest}
results=$build/hardware/results
limit_s=900

skip() {
    echo "skipped: hardware: $*"
    exit 0
}

sh "$project/tests/support/install.sh" qemu-system-x86 busybox-static cpio kmod xz-utils gcc make libc6-dev libelf1 binutils \
    util-linux v4l-utils gpiod >/dev/null || skip "the packages cannot be had"
[ "$(uname -m)" = x86_64 ] || skip "the guest is made for x86_64"
[ -x "$build/tests/hardware-webcam" ] || skip "libjpeg was not there when it was built"
began=$(date +%s)
sh "$here/guest.sh" "$cache" || skip "the guest cannot be made"
echo "guest ready after $(($(date +%s) - began)) s"
rm -rf "$results"
mkdir -p "$results"

# The tests of one guest run one after another.
boot() { # GUEST CLOCK QUOTED_TESTS
    [ -n "$3" ] || return 0
    sh "$here/boot.sh" -c "$2" -t "$limit_s" "$cache" "$results/$1" \
        "PROJECT='$project' BUILD='$build' RESULTS='$results/$1' exec sh '$here/among.sh' $3" 2>&1 | tell_times
}

# The guest's clock does not tell how long its host took.
tell_times() {
    while IFS= read -r line; do
        case $line in
        '# end') echo "# took $(($(date +%s) - test_began)) s" ;;
        '#  '*) echo "$line" ;;
        '# '*) test_began=$(date +%s); echo "$line" ;;
        *) echo "$line" ;;
        esac
    done
}

# A guest has one processor: two of them run at once. What the second says comes when the first has ended.
attempt() { # TEST.sh...
    first='' second='' real=''
    for test; do
        test=$(cd "$(dirname "$test")" && pwd)/$(basename "$test")
        if grep -q '^# clock: real' "$test"; then
            real="$real '$test'"
        elif [ ${#first} -gt ${#second} ]; then
            second="$second '$test'"
        else
            first="$first '$test'"
        fi
    done
    {
        boot second virtual "$second" >"$results/second.said" &
        boot first virtual "$first"
        wait
        cat "$results/second.said"
        boot real real "$real"
    } | tee "$results/said"
    held=$(grep -c '^ok' "$results/said")
    echo "# $held claims hold, $(grep '^not ok' "$results/said" | grep -vc '# TODO$') do not"
}

# Which tests have a claim that does not hold, or did not run to their end; quoted.
failed() { # TEST.sh...
    for test; do
        awk -v name="$(basename "$test" .sh | tr _ ' ')" '
            /^# / && $0 == "# " name { is_in = 1 }
            is_in && /^not ok/ && !/# TODO$/ { is_false = 1 }
            is_in && /^# took/ { has_ended = 1; is_in = 0 }
            END { exit is_false || !has_ended }' "$results/said" || printf " '%s'" "$test"
    done
}

[ $# -gt 0 ] || set -- "$here/$kind"/*.sh
tests=$#
held=0
attempt "$@"
again=$(failed "$@")
if [ -n "$again" ]; then
    echo "once more, as a guest can come late on a loaded machine:$again"
    eval "attempt $again"
    again=$(eval "failed $again")
fi
echo "hardware: $tests tests in $(($(date +%s) - began)) s; not passed:${again:- none}"
[ "$held" -gt 0 ] && [ -z "$again" ]
