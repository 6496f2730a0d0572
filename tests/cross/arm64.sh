#!/bin/sh
# arm64.sh - Cross-build lampread for arm64, the photodiode's usual host, and read the captures under emulation.
# usage: sh tests/cross/arm64.sh BUILD   (a native build, for its golden-compare)
# The libraries are fetched as Debian packages into a folder of their own: nothing of this machine is changed.
set -eu
project=$(cd "$(dirname "$0")/../.." && pwd)
native=$(cd "${1:?usage: arm64.sh BUILD}" && pwd)
work=${LAMPREAD_CROSS_CACHE:-$native/arm64}
root=$work/root
libraries=$root/usr/lib/aarch64-linux-gnu

skip() {
    echo "skipped: arm64: $*"
    exit 0
}

command -v apt-get >/dev/null || skip "there is no apt-get to fetch its libraries with"
sh "$project/tests/support/install.sh" gcc-aarch64-linux-gnu qemu-user-static >/dev/null 2>&1 ||
    skip "gcc-aarch64-linux-gnu and qemu-user-static cannot be installed"

# An apt of its own, that knows one architecture and has nothing installed.
fetch() {
    mkdir -p "$work/state/lists/partial" "$work/cache/archives/partial"
    : >"$work/status"
    set -- -o APT::Architecture=arm64 -o APT::Architectures=arm64 -o Dir::State="$work/state" \
        -o Dir::State::status="$work/status" -o Dir::Cache="$work/cache" -o Debug::NoLocking=1 \
        -o APT::Sandbox::User= -o APT::Install-Recommends=0
    apt-get "$@" -qq update &&
        apt-get "$@" -qq -y --download-only install libc6-dev libavformat-dev libavcodec-dev libavutil-dev \
            libswscale-dev libv4l-dev libjpeg62-turbo-dev libgpiod-dev libfyaml-dev libjansson-dev libcairo2-dev
}

# The directories that are links on a merged /usr are so here too.
unpack() {
    mkdir -p "$root/usr/lib" "$root/usr/bin" "$root/usr/sbin"
    for name in lib bin sbin; do
        ln -sfn "usr/$name" "$root/$name"
    done
    for package in "$work"/cache/archives/*.deb; do
        dpkg-deb --fsys-tarfile "$package" | tar -x --keep-directory-symlink -C "$root"
    done
    : >"$work/unpacked"
}

if [ ! -e "$work/unpacked" ]; then
    fetch >"$work.log" 2>&1 || skip "its packages cannot be fetched: $(tail -n 1 "$work.log")"
    unpack
fi

PKG_CONFIG_SYSROOT_DIR=$root
PKG_CONFIG_LIBDIR=$libraries/pkgconfig:$root/usr/share/pkgconfig
export PKG_CONFIG_SYSROOT_DIR PKG_CONFIG_LIBDIR
cmake -S "$project" -B "$work/build" -G Ninja -DBUILD_TESTING=OFF -DCMAKE_SYSTEM_NAME=Linux \
    -DCMAKE_SYSTEM_PROCESSOR=aarch64 -DCMAKE_C_COMPILER=aarch64-linux-gnu-gcc -DCMAKE_SYSROOT="$root" \
    -DCMAKE_FIND_ROOT_PATH_MODE_PROGRAM=NEVER -DCMAKE_C_FLAGS=-Werror -DCMAKE_EXE_LINKER_FLAGS="-Wl,-rpath-link,$libraries -Wl,--allow-shlib-undefined" >/dev/null
cmake --build "$work/build" -- --quiet

cat >"$work/lampread" <<RUN
#!/bin/sh
exec qemu-aarch64-static -L "$root" -E LD_LIBRARY_PATH="$libraries:$libraries/blas:$libraries/lapack:$libraries/pulseaudio" \\
    "$work/build/src/lampread" "\$@"
RUN
chmod +x "$work/lampread"
"$work/lampread" --version
LAMPREAD_BOOKS=$project/codebooks sh "$project/tests/golden/run.sh" "$work/lampread" "$native/tests/golden-compare" "$project"
