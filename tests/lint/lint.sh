#!/bin/sh
# lint.sh - What the compilers do not check: include directions, headers that stand alone, captions, licence of names.
# usage: sh tests/lint/lint.sh PROJECT_FOLDER
set -eu
cd "$1"
bad=0
complain() {
    printf '%s\n' "$*"
    bad=1
}

# A layer includes only what layers.txt allows.
find src -name '*.[ch]' | sort | xargs awk -f tests/lint/layers.awk tests/lint/layers.txt || bad=1

# Every public header compiles alone.
for header in include/lampread/*.h; do
    printf '#include "lampread/%s"\n' "$(basename "$header")" |
        ${CC:-cc} -std=c11 -Wall -Wextra -Wpedantic -Werror -Iinclude -fsyntax-only -x c - || complain "$header: does not compile alone"
done

# The first line of each file is its caption, and the caption stands in DEVELOPERS.md too.
for file in $(find src include -name '*.[ch]' | sort); do
    name=$(basename "$file")
    caption=$(sed -n '1s|^/\* \(.*\)$|\1|p' "$file")
    case $caption in
    "$name - "?*) ;;
    *) complain "$file:1: expected a caption, '/* $name - What it does. */'" ;;
    esac
done
for file in $(find src -name '*.c' | sort); do
    grep -q "\`$(echo "$file" | sed 's|^src/||')\`" DEVELOPERS.md || complain "$file: not on the map in DEVELOPERS.md"
done

# A third-party header appears in one file; files for two versions of a library (NAME_v1.c, NAME_v2.c), of which one is built, are one.
for header in libfyaml.h jansson.h libswscale/swscale.h gpiod.h jpeglib.h libv4l2.h cairo.h; do
    count=$(grep -rl --include='*.[ch]' "#include <$header>" src include | sed 's/_v[0-9]*\.c$/.c/' | sort -u | wc -l)
    [ "$count" -le 1 ] || complain "<$header> is included in $count files"
done

exit $bad
