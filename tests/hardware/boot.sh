#!/bin/sh
# boot.sh - Run a command as root in the guest, among the host's files; give back its output and exit status.
# usage: sh tests/hardware/boot.sh [-c virtual|real] [-t SECONDS] GUEST_FOLDER OUT_FOLDER COMMAND
#   -c  virtual (default): time follows the instructions carried out, 1 ns each, so that a busy host changes nothing;
#       idle time is skipped. real: the host's time.
#   -t  the most seconds it may take on the host; default 300.
# The host's files can be read; only what is put in OUT_FOLDER stays. Exit status 125: the guest gave none.
set -u
clock=virtual
limit_s=300
while getopts c:t: option; do
    case $option in
    c) clock=$OPTARG ;;
    t) limit_s=$OPTARG ;;
    *) exit 2 ;;
    esac
done
shift $((OPTIND - 1))
[ $# = 3 ] || { sed -n 3p "$0" >&2; exit 2; }
guest=$1
mkdir -p "$2"
out=$(cd "$2" && pwd)
rm -f "$out/status"

# One processor in either: with two, edges were seen to be lost. While the guest waits for the host's files, virtual time goes
# on to the guest's next timer: with a tick that never rests that is 4 ms at most, and not seconds.
case $clock in
virtual) pace="-accel tcg,thread=single -icount shift=0,sleep=off" tick=nohz=off ;;
real) pace="-accel tcg,thread=multi" tick= ;;
*) echo "boot.sh: there is no clock '$clock'" >&2; exit 2 ;;
esac

# Where it is allowed, real time goes before the host's other work.
ahead=
[ "$clock" = real ] && chrt -r 5 true 2>/dev/null && ahead="chrt -r 5"

word() {
    printf %s "$1" | base64 -w0
}

# shellcheck disable=SC2086 # words
timeout "$limit_s" $ahead qemu-system-x86_64 -M pc $pace -smp 1 -cpu max -m 1024 \
    -nodefaults -display none -monitor none -serial stdio -no-reboot \
    -kernel "$guest/vmlinux" -initrd "$guest/initramfs.cpio" \
    -append "console=ttyS0 quiet loglevel=${LAMPREAD_VM_LOGLEVEL:-3} panic=-1 mitigations=off nokaslr random.trust_cpu=on tsc=reliable $tick lamp.run=$(word "$3") lamp.out=$(word "$out")" \
    -virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap \
    -virtfs "local,path=$out,mount_tag=out,security_model=none" </dev/null 2>"$out/qemu.log" |
    sed -u 's/\r$//; /reboot: Power down/d'

status=$(cat "$out/status" 2>/dev/null)
[ -n "$status" ] || { echo "boot.sh: the guest gave no exit status: $(tail -n 1 "$out/qemu.log")" >&2; exit 125; }
exit "$status"
