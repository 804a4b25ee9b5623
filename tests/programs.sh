#!/bin/sh
# tests/programs.sh PROGRAM... : runs test programs, two at a time, and adds up what cmocka printed. Shows the output of
# those that failed. WRAP: words to put before each program (valgrind ...). TEST_SECONDS: the longest one may take.
# A program that crashes, prints no count or runs fewer tests than it announced counts as failed.
set -u

logs=$(mktemp -d) || exit 1
trap 'rm -rf "$logs"' EXIT
export logs
WRAP=${WRAP:-} TEST_SECONDS=${TEST_SECONDS:-240}
export WRAP TEST_SECONDS

# shellcheck disable=SC2016 # the inner shell expands
printf '%s\n' "$@" | xargs -P "${JOBS:-2}" -I '{}' sh -c '
    name=$(printf %s "$1" | tr / _)
    timeout -k 10 "$TEST_SECONDS" $WRAP "$1" >"$logs/$name.log" 2>&1
    echo "$? $1" >"$logs/$name.end"' sh '{}'

passed=0 failed=0 skipped=0
for program in "$@"; do
    name=$(printf %s "$program" | tr / _)
    read -r end _ <"$logs/$name.end"
    # shellcheck disable=SC2046 # three numbers
    set -- $(awk -v end="$end" '
        /\[==========\] Running [0-9]+ test/   { sub(/.*Running /, ""); announced += $1 }
        /\[  PASSED  \] [0-9]+ test/           { sub(/.*\] /, ""); passed += $1 }
        /\[  FAILED  \] [0-9]+ test/           { sub(/.*\] /, ""); failed += $1 }
        /\[  SKIPPED \] [0-9]+ test/           { sub(/.*\] /, ""); skipped += $1 }
        END {
            if (passed + failed + skipped < announced) failed = announced - passed - skipped
            if (!announced || (end && !failed)) failed++
            print passed + 0, failed + 0, skipped + 0
        }' "$logs/$name.log")
    if [ "$2" -gt 0 ]; then
        echo "--- $program: exit status $end"
        grep -v -e '\[ RUN      \]' -e '\[       OK \]' "$logs/$name.log" | tail -n 60
    elif [ -n "${VERBOSE:-}" ]; then
        cat "$logs/$name.log"
    fi
    passed=$((passed + $1)) failed=$((failed + $2)) skipped=$((skipped + $3))
done
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
