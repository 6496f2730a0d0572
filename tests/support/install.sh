#!/bin/sh
# install.sh - Install the Debian packages named that are missing.
# usage: sh tests/support/install.sh PACKAGE...
set -eu
missing=
for package; do
    dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null | grep -q '^installed$' || missing="$missing $package"
done
[ -n "$missing" ] || exit 0
if ! command -v apt-get >/dev/null; then
    echo "install.sh: needs$missing (Debian's names): install them, then run this again" >&2
    exit 1
fi
as_root=
if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || { echo "install.sh: run as root, or install:$missing" >&2; exit 1; }
    as_root=sudo
fi
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -qq
# shellcheck disable=SC2086 # a list of names
$as_root apt-get install -qq -y --no-install-recommends $missing >/dev/null
