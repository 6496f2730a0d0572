#!/bin/sh
# run.sh - Check the pages of the manual, the completion, an installation, and books and exports before independent readers.
# usage: sh tests/manual/run.sh PROJECT BUILD
set -eu
project=$1
build=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
failed=0

claim() { # "a sentence" COMMAND...
    sentence=$1
    shift
    if "$@" >"$work/log" 2>&1; then
        echo "ok      $sentence"
    else
        echo "FAILED  $sentence"
        sed 's/^/        /' "$work/log"
        failed=$((failed + 1))
    fi
}

lint() {
    mandoc -T lint -W warning "$build/src/manual/lampread.1" "$project/src/manual/lampread-codebook.5"
}

every_option_is_in_the_page() {
    mandoc -T ascii "$build/src/manual/lampread.1" | col -b >"$work/page"
    for command in read watch record render sources; do
        "$prefix/bin/lampread" $command --help | grep -o -e '--[a-z-]*' | grep -vx -e --help | while read -r option; do
            grep -qF -e "$option" "$work/page" || { echo "$command $option"; exit 1; }
        done || return 1
    done
}

examples_are_good() {
    awk '/^\.Bd/ { inside = 1; next } /^\.Ed/ { inside = 0 } inside' "$project/src/manual/lampread-codebook.5" >"$work/example.yaml"
    "$prefix/bin/lampread" book check "$work/example.yaml" | grep -q 'codes 7'
}

completes() {
    mkdir "$work/folder"
    touch "$work/folder/board.mp4" "$work/folder/old trace.csv" "$work/folder/my.yaml"
    (cd "$work/folder" && PATH=$prefix/bin:$PATH bash "$project/tests/manual/complete.bash" \
        "$prefix/share/bash-completion/completions/lampread") | diff "$project/tests/manual/complete.expect" -
}

links() {
    cat >"$work/user.c" <<'C'
#include <lampread/lampread.h>
#include <stdio.h>
int main(void)
{
    struct lamp_pattern pattern;
    return lamp_pattern_parse("2 long 3 short", &pattern, NULL, NULL) == LAMP_OK && pattern.count == 5 ? 0 : 1;
}
C
    pc=$(dirname "$(find "$prefix" -name lampread.pc)")
    # shellcheck disable=SC2046 # flags are words
    cc -std=c11 -o "$work/user" "$work/user.c" ${LAMPREAD_TEST_FLAGS:-} $(PKG_CONFIG_PATH=$pc pkg-config --cflags --libs lampread) && "$work/user"
}

# Debian's package is unpacked into the build folder, not installed: its window needs much that these programs do not.
fetch_gtkwave() {
    folder=$build/gtkwave
    if [ ! -e "$folder/usr/bin/vcd2fst" ]; then
        mkdir -p "$folder"
        (cd "$folder" && apt-get download -qq gtkwave libjudydebian1 && for package in *.deb; do dpkg-deb -x "$package" .; done) \
            >"$work/log" 2>&1 || return 0
    fi
    PATH=$folder/usr/bin:$PATH
    LD_LIBRARY_PATH=$(dirname "$(find "$folder" -name libJudy.so.1)")
    export LD_LIBRARY_PATH
}

# vcd2fst and fst2vcd of GTKWave, an independent reader and writer of IEEE 1364 dumps: what went through both still holds each value.
vcd_is_read_elsewhere() {
    "$prefix/bin/lampread" read "$project/captures/code/input.mp4" --book heron-h1 --export-edges "$work/a.vcd" >/dev/null
    vcd2fst "$work/a.vcd" "$work/a.fst" && fst2vcd "$work/a.fst" >"$work/b.vcd"
    for file in a b; do
        "$prefix/bin/lampread" read "$work/$file.vcd" --json | grep -v '"name": ".*\.vcd"' >"$work/$file.json"
    done
    grep -q '"1 long 8 short"' "$work/a.json" && diff "$work/a.json" "$work/b.json" &&
        grep -q 'integer 32 .* status_group' "$work/b.vcd" && grep -q 'b0*1101100011011110110111001100111 ' "$work/b.vcd"
}

# PyYAML, an independent reader of YAML: every book, and one that was taught words which have to be quoted.
books_are_read_elsewhere() {
    means="Memory: test #1 'failed', \"again\" - 100 %"
    "$prefix/bin/lampread" book new "$work/taught.yaml" --board "no: 7" --lamp status=green:processor >/dev/null
    "$prefix/bin/lampread" book teach "$project/captures/code/input.mp4" --book "$work/taught.yaml" --lamp status --id memory \
        --means "$means" --suspect "chip: U4 [left]" --check "- 1.1 V?" --check "yes" >/dev/null
    for book in "$project"/codebooks/*.yaml "$work/taught.yaml"; do
        "$prefix/bin/lampread" book show "$book" | grep -x '[a-z0-9-][a-z0-9-]*' >"$work/ours"
        python3 -c 'import sys, yaml
for code in yaml.safe_load(open(sys.argv[1]))["codes"]: print(code["id"])' "$book" | diff "$work/ours" - || return 1
    done
    python3 -c 'import sys, yaml
book = yaml.safe_load(open(sys.argv[1]))
code = book["codes"][0]
assert book["board"] == "no: 7", book["board"]
assert code["means"] == sys.argv[2], code["means"]
assert code["suspect"] == ["chip: U4 [left]"], code["suspect"]
assert code["check"] == ["- 1.1 V?", "yes"], code["check"]
assert code["pattern"] == "1 long 8 short", code["pattern"]' "$work/taught.yaml" "$means"
}

prefix=$work/prefix
unset LAMPREAD_BOOKS
cmake --install "$build" --prefix "$prefix" >/dev/null
claim "lampread is installed with library, header, books, pages and completion" test -x "$prefix/bin/lampread" -a \
    -e "$prefix/include/lampread/lampread.h" -a -e "$prefix/share/lampread/codebooks/heron-h1.yaml" -a \
    -e "$prefix/share/man/man1/lampread.1" -a -e "$prefix/share/man/man5/lampread-codebook.5"
LAMPREAD_BOOKS=$prefix/share/lampread/codebooks
export LAMPREAD_BOOKS
claim "the example of lampread-codebook(5) is a good book" examples_are_good
if command -v mandoc >/dev/null; then
    claim "mandoc finds nothing wrong in the pages" lint
    claim "every option is in lampread(1)" every_option_is_in_the_page
else
    echo "skipped: the pages: there is no mandoc here"
fi
if command -v bash >/dev/null; then
    claim "bash completes commands, options, files, books and words" completes
else
    echo "skipped: completion: there is no bash here"
fi
if grep -q 'LAMPREAD_SANITIZE:STRING=.' "$build/CMakeCache.txt"; then
    echo "skipped: linking: this build is sanitized"
else
    claim "a program of ten lines is built with what pkg-config says" links
fi
command -v vcd2fst >/dev/null || fetch_gtkwave
if command -v vcd2fst >/dev/null; then
    claim "an independent program reads the VCD and writes it again to the same verdicts" vcd_is_read_elsewhere
else
    echo "skipped: the VCD elsewhere: vcd2fst (Debian's gtkwave) can be neither found nor fetched"
fi
if python3 -c 'import yaml' 2>/dev/null; then
    claim "an independent reader of YAML has the same codes of every book, and the words of a taught one" books_are_read_elsewhere
else
    echo "skipped: books elsewhere: Python's yaml (Debian's python3-yaml) is not here"
fi
[ $failed -eq 0 ]
