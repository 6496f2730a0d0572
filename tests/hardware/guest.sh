#!/bin/sh
# guest.sh - Make the guest: Debian's own kernel, the modules for USB cameras and simulated GPIO lines, and a first process.
# usage: sh tests/hardware/guest.sh CACHE_FOLDER
# The kernel's packages are downloaded and unpacked, never installed; what is left in the folder is vmlinux and
# initramfs.cpio (about 80 MB). A second run finds them and does nothing. Exit status 1, with why, where they cannot be had.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p "$1"
cache=$(cd "$1" && pwd)
work=$cache/work

# Drivers for the host's files (virtio, 9p, overlay), USB cameras made in user space (vhci-hcd, uvcvideo), GPIO lines.
modules="virtio_pci 9pnet_virtio 9p overlay vhci-hcd uvcvideo configfs gpio-sim"

fail() {
    echo "guest.sh: $*" >&2
    exit 1
}

depends() { # PACKAGE PATTERN: the name among its dependencies
    apt-cache depends "$1" 2>/dev/null | sed -n "s/.*Depends: \($2\)\$/\1/p" | head -n 1
}

# The newest kernel of this release is behind a package that only depends on it.
headers=$(depends linux-headers-amd64 'linux-headers-.*-amd64')
if [ -z "$headers" ] && [ "$(id -u)" = 0 ]; then
    apt-get update -qq || fail "the list of packages cannot be had"
    headers=$(depends linux-headers-amd64 'linux-headers-.*-amd64')
fi
[ -n "$headers" ] || fail "no package linux-headers-amd64 is known here"
release=${headers#linux-headers-}
kbuild=$(depends "$headers" 'linux-kbuild-.*')
source=linux-source-${kbuild#linux-kbuild-}
version=$(apt-cache policy "linux-image-$release" | sed -n 's/.*Candidate: //p')

# What was made from other ingredients is made again.
stamp="$version $(cat "$0" "$here/init" | cksum)"
if [ -s "$cache/initramfs.cpio" ] && [ "$(cat "$cache/stamp" 2>/dev/null)" = "$stamp" ]; then
    exit 0
fi

rm -rf "$work"
mkdir -p "$work/packages" "$work/kernel" "$work/modules" "$work/root"
trap 'rm -rf "$work"' EXIT
trap 'exit 1' HUP INT TERM

unpack() { # PACKAGE TAR_OPTION...
    package=$1
    shift
    (cd "$work/packages" && apt-get download -qq "$package=$version" 2>/dev/null) || fail "$package $version cannot be had"
    dpkg-deb --fsys-tarfile "$work/packages/$package"_*.deb | tar -x -C "$work/kernel" "$@"
    rm "$work/packages/$package"_*.deb
}

unpack "linux-image-$release" --exclude='*/drivers/net/*' --exclude='*/drivers/gpu/*' --exclude='*/drivers/scsi/*'
unpack "$headers"
unpack "linux-headers-${release%-amd64}-common"
unpack "$kbuild"
unpack "$source" -O "./usr/src/$source.tar.xz" >"$work/source.tar.xz"
tar -xJ -C "$work/kernel" -f "$work/source.tar.xz" "$source/drivers/gpio/gpio-sim.c" "$source/drivers/gpio/gpiolib.h" \
    "$source/kernel/irq/irq_sim.c" "$source/scripts/extract-vmlinux"
rm "$work/source.tar.xz"

# QEMU enters an unpacked kernel at once; the packed one would unpack itself at the guest's speed.
bash "$work/kernel/$source/scripts/extract-vmlinux" "$work/kernel/boot/vmlinuz-$release" >"$work/vmlinux" ||
    fail "the kernel cannot be unpacked"

# No Debian kernel has gpio-sim, so it is built here, with the interrupts it makes use of.
build_gpio_sim() {
    from=$work/kernel/$source
    cp "$from/drivers/gpio/gpio-sim.c" "$from/drivers/gpio/gpiolib.h" "$from/kernel/irq/irq_sim.c" "$work/modules"
    cd "$work/modules"
    # A module may not look an interrupt up by its number; for this chip this call does the same.
    sed -i 's/handle_simple_irq(irq_to_desc(irqnum));/generic_handle_irq(irqnum);/' irq_sim.c
    grep -q 'generic_handle_irq(irqnum)' irq_sim.c || fail "irq_sim.c is not the one that was expected"
    printf '#include <linux/module.h>\nMODULE_LICENSE("GPL");\n' >>irq_sim.c
    echo 'obj-m := irq_sim.o gpio-sim.o' >Kbuild
    sed -i "s#^include .*#include $work/kernel/usr/src/linux-headers-${release%-amd64}-common/Makefile#" \
        "$work/kernel/usr/src/linux-headers-$release/Makefile"
    make -s -C "$work/kernel/usr/src/linux-headers-$release" M="$PWD" modules >"$work/modules.log" 2>&1 ||
        fail "gpio-sim cannot be built: $(tail -n 3 "$work/modules.log")"
    mkdir -p "$work/kernel/lib/modules/$release/extra"
    strip --strip-debug irq_sim.ko gpio-sim.ko
    cp irq_sim.ko gpio-sim.ko "$work/kernel/lib/modules/$release/extra"
    cd "$here"
}
build_gpio_sim

# The first process has busybox, the modules and no more: all else is the host's own files.
pack_root() {
    depmod -b "$work/kernel" "$release"
    mkdir -p "$work/root/bin" "$work/root/dev" "$work/root/proc" "$work/root/sys" "$work/root/lib/modules"
    cp "$(command -v busybox)" "$work/root/bin/busybox"
    cp "$here/init" "$work/root/init"
    chmod +x "$work/root/init"
    cd "$work/kernel"
    for module in $modules; do
        modprobe -d "$work/kernel" -S "$release" --show-depends "$module" || fail "this kernel has no $module"
    done | sed -n "s#^insmod $work/kernel/\([^ ]*\).*#\1#p" | sort -u | cpio -pdm --quiet "$work/root"
    cp lib/modules/"$release"/modules.builtin lib/modules/"$release"/modules.builtin.modinfo lib/modules/"$release"/modules.order "$work/root/lib/modules/$release"
    depmod -b "$work/root" "$release"
    cd "$work/root"
    find . | cpio -o -H newc --quiet >"$work/initramfs.cpio"
}
pack_root

mv "$work/vmlinux" "$work/initramfs.cpio" "$cache"
echo "$stamp" >"$cache/stamp"
