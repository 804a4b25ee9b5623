#!/bin/sh
# What `make lint` runs. Each check prints what it found; the last line counts the checks.
# tests/lint/run.sh [CHECK...] runs only those.
set -u
cd "$(dirname "$0")/../.." || exit 1

B=${B:-build} MAKE=${MAKE:-make} CC=${CC:-gcc} PURE=${PURE:-base calc model rules engine}
passed=0 failed=0
found=$(mktemp) && trap 'rm -f "$found"' EXIT

make_quiet() {
    MAKEFLAGS='' MAKELEVEL='' $MAKE -s --no-print-directory -k -j"$(nproc 2>/dev/null || echo 2)" B="$B" "$@" || echo "make $1 failed"
}

sources() { # all C files of ours
    find daemon include tests -name '*.[ch]' | sort
}

# Who includes whom: daemon/layers.
check_layers() {
    find daemon include -name '*.[ch]' | sort | xargs awk -f tests/lint/layers.awk daemon/layers
}

# What the pure folders' objects import, and whether they hold data that changes.
check_imports() {
    for folder in $PURE; do
        for source in daemon/"$folder"/*.c; do
            [ -e "$source" ] || continue
            object=$B/${source%.c}.o
            nm -u "$object" | awk -v object="$source" -f tests/lint/imports.awk
            objdump -t "$object" | awk -v object="$source" '
                { section = $4 ~ /^[.*]/ ? $4 : $3 }
                $3 != "d" && section ~ /^\.(data|bss|tdata|tbss)|^\*COM\*$/ && section !~ /^\.data\.rel\.ro/ {
                    print object ": " $NF " can change"
                }'
        done
    done
}

# Every symbol that the library gives to the world has our prefix.
check_symbols() {
    nm -g --defined-only "$B/libdewbell.a" | awk 'NF == 3 && $3 !~ /^db_/ { print "libdewbell.a: " $3 " does not begin with db_" }'
}

# base/banned.h is the last include of every .c; the pure folders (but for the arena) say DB_PURE before it.
check_banned() {
    find daemon -name '*.c' | sort | xargs -r awk -v pure=" $PURE " '
        function finish() {
            if (file == "") return
            if (last !~ /"base\/banned.h"/) print file ": base/banned.h is not its last include"
            split(file, part, "/")
            if (index(pure, " " part[2] " ") && file != "daemon/base/arena.c" && !said) print file ": DB_PURE is not defined before base/banned.h"
            if (!index(pure, " " part[2] " ") && said) print file ": DB_PURE is for the pure folders"
        }
        FNR == 1 { finish(); file = FILENAME; last = ""; said = 0 }
        /^#define DB_PURE/ { said = 1 }
        /^[ \t]*#[ \t]*include/ { last = $0 }
        END { finish() }'
}

# Each header stands alone; the public ones also in C++.
check_headers() {
    for header in $(find include daemon -name '*.h' | sort); do
        [ "$header" = daemon/base/banned.h ] && continue
        printf '#include "%s"\n#include "%s"\nextern int something;\n' "$header" "$header" | $CC -std=c17 -Wall -Wextra -Wpedantic -Werror -D_GNU_SOURCE \
            -I. -Iinclude -Idaemon -fsyntax-only -x c - 2>&1
    done
    for header in include/dewbell/*.h; do
        printf '#include "%s"\n' "${header#include/}" | g++ -std=c++17 -Wall -Wextra -Wpedantic -Werror -Iinclude \
            -fsyntax-only -x c++ - 2>&1
    done
    grep -LE 'extern "C"' include/dewbell/*.h | sed 's/$/: no extern "C"/'
    grep -nE '#include <(libical|sqlite3|json-c|curl|ini\.h|xxhash|uuid)' include/dewbell/*.h
}

check_format() {
    sources | xargs clang-format-14 --dry-run -Werror 2>&1 | awk -F: '/ error: / && !seen[$1]++ { print $1 ": run make format" }'
}

# A file does one thing.
check_length() {
    sources | xargs wc -l | awk '$2 != "total" && $1 > 600 { print $2 ": " $1 " lines; 600 at most" }'
}

# The top level holds what it should and nothing else; a redirection gone astray shows here.
check_top() {
    git ls-files -co --exclude-standard | cut -d/ -f1 | sort -u |
        grep -vxE 'README\.md|DEVELOPERS\.md|LICENSE|Makefile|daemon|rules|include|tests|contrib|docs|\..*' |
        sed 's/$/: does not belong in the top folder/'
}

check_words() {
    git ls-files -co --exclude-standard | awk -v here="$(pwd)" -v home="${HOME:-/root}" -v roots="$(ls /)" -f tests/lint/words.awk
}

# What a shipped rule asks of a crop is a fact of it, so that crops of the gardener's own are looked after as well.
check_facts() {
    grep -nE 'crop\.name' rules/jobs/*.ini | sed 's/\(:[0-9]*:\).*/\1 a rule names a crop; ask for a fact of it/'
}

check_shell() { # shell scripts parse
    for script in $(git ls-files -co --exclude-standard | grep -E '\.sh$') .ci/run; do
        sh -n "$script" 2>&1
    done
}

check_tidy() {
    make_quiet "${TIDY:-tidy}" 2>&1
}

check_cppcheck() {
    make_quiet cppcheck 2>&1
}

for tool in clang-format-14 clang-tidy-14 cppcheck g++ objdump nm; do
    command -v $tool >/dev/null || { echo "$tool is missing: run make deps"; echo "0 passed, 1 failed, 0 skipped"; exit 1; }
done
make_quiet "$B/libdewbell.a" >"$found" 2>&1
if grep -q "^make .* failed" "$found"; then
    cat "$found"
    echo "0 passed, 1 failed, 0 skipped"
    exit 1
fi
for check in ${*:-layers imports symbols banned headers format length top words facts shell tidy cppcheck}; do
    begun=$(date +%s)
    "check_$check" >"$found" 2>&1
    if [ ! -s "$found" ]; then # a check that has nothing to say passes
        passed=$((passed + 1))
        printf 'ok    %-10s %3d s\n' "$check" $(($(date +%s) - begun))
    else
        failed=$((failed + 1))
        printf 'wrong %-10s %3d s\n' "$check" $(($(date +%s) - begun))
        cat "$found"
    fi
done
echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" -eq 0 ]
