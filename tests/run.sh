#!/bin/sh
# What `make check` runs: part after part, each with its own count, and one closing line over all of them.
# tests/run.sh [PART...] runs only those.
set -u
cd "$(dirname "$0")/.." || exit 1

B=${B:-build} MAKE=${MAKE:-make} CI=${CI:-}
SEED=${SEED:-$(date +%s)}
export B MAKE SEED LC_ALL=C.UTF-8
[ -n "$CI" ] && export CI
JOBS=$(nproc 2>/dev/null || echo 2)
export JOBS
logs=$B/check
mkdir -p "$logs"
echo "SEED=$SEED"

# The flags of the make that called would make these ones talk of its job server.
make_quiet() {
    MAKEFLAGS='' MAKELEVEL='' $MAKE -s --no-print-directory -j"$JOBS" B="$B" ${CI:+CI="$CI"} "$@"
}

# Each part prints what went wrong and its count; where that is several lines, they are added up.

part_build() { # with gcc; clang does it in the sanitizers' part
    if make_quiet all tests outside season; then echo "1 passed, 0 failed, 0 skipped"; else echo "0 passed, 1 failed, 0 skipped"; fi
}

programs() { # FOLDER: the test programs built there whose source is still there
    for source in tests/unit/*.c tests/property/*.c; do
        [ -e "$source" ] && printf '%s ' "$1/${source%.c}"
    done
}

# What cannot be built has failed; the others are run all the same.
part_tests() {
    make_quiet -k tests
    built=$?
    # shellcheck disable=SC2046
    sh tests/programs.sh $(programs "$B") && [ $built -eq 0 ]
}

part_sanitizers() {
    make_quiet -k asan
    built=$?
    # shellcheck disable=SC2046
    ASAN_OPTIONS=detect_stack_use_after_return=1 UBSAN_OPTIONS=print_stacktrace=1 \
        sh tests/programs.sh $(programs "$B/asan") && [ $built -eq 0 ]
}

part_replay() { # the seeds of the fuzz targets, one test a file, under the sanitizers
    make_quiet asan || return 1
    for source in tests/fuzz/fuzz_*.c; do
        name=$(basename "$source" .c)
        for folder in $(sh tests/fuzz/seeds.sh "$name"); do
            find "$folder" -type f | sed "s/^/$name /"
        done
    done | sort >"$logs/seeds"
    # shellcheck disable=SC2016 # for the shell that it is handed to
    xargs -P "$JOBS" -L 1 sh -c 'told=$(timeout 20 "$1/asan/replay/$2" "$3" 2>&1 </dev/null) && echo passed && exit
        printf "%s\n" "--- $2 $3" "$told" | tail -n 31' replay "$B" <"$logs/seeds" >"$logs/replay.all"
    grep -v '^passed$' "$logs/replay.all"
    passed=$(grep -c '^passed$' "$logs/replay.all") all=$(wc -l <"$logs/seeds")
    echo "$passed passed, $((all - passed)) failed, 0 skipped"
    [ "$passed" -eq "$all" ] && [ "$passed" -gt 0 ]
}

# The unit programs (the property ones repeat the same code too often to wait for), with fewer repetitions (kit/thrift.h), then
# dewbell and dewbelld themselves.
part_valgrind() {
    make_quiet -k all tests
    built=$?
    chosen=
    for source in tests/unit/*.c; do
        [ -e "$source" ] && chosen="$chosen $B/${source%.c}"
    done
    # shellcheck disable=SC2086
    THRIFT=1 WRAP="valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite,indirect,possible
        --suppressions=tests/valgrind.suppress" sh tests/programs.sh $chosen
    ended=$?
    scripts tests/valgrind "$JOBS" && [ $ended -eq 0 ] && [ $built -eq 0 ]
}

scripts() { # AT-ONCE SECONDS SCRIPTS...: each for at most so long; what they share is none of them
    passed=0 failed=0 skipped=0 at_once=$1 longest=$2
    shift 2
    for script in "$@"; do
        [ -e "$script" ] && [ "${script##*/}" != lib.sh ] && echo "$script"
    done >"$logs/scripts.$part"
    # shellcheck disable=SC2016 # for the shell that it is handed to
    xargs -P "$at_once" -I '{}' sh -c 'log=$1/$(printf %s "$3" | tr / _).log begun=$(date +%s)
        timeout "$2" sh "$3" >"$log" 2>&1 </dev/null
        echo "$? $(($(date +%s) - begun))" >"$log.end"' run "$logs" "$longest" '{}' <"$logs/scripts.$part"
    while read -r script; do
        log=$logs/$(printf %s "$script" | tr / _).log
        read -r end took <"$log.end"
        count=$(awk '/^[0-9]+ passed, [0-9]+ failed, [0-9]+ skipped$/ { line = $0 } END { gsub(/[^0-9]+/, " ", line); print line }' "$log")
        # shellcheck disable=SC2086 # three numbers
        set -- ${count:-0 1 0}
        [ "$end" -ne 0 ] && [ "$2" -eq 0 ] && set -- "$1" 1 "$3"
        echo "--- $script: $1 passed, $2 failed, $3 skipped, $took s"
        grep -v '^[0-9]* passed, ' "$log" | tail -n 40
        passed=$((passed + $1)) failed=$((failed + $2)) skipped=$((skipped + $3))
    done <"$logs/scripts.$part"
    echo "$passed passed, $failed failed, $skipped skipped"
    [ "$failed" -eq 0 ]
}

part_cli() {
    make_quiet all || return 1
    scripts 1 300 tests/cli/*.sh
}

part_service() { # real servers and clients, on loopback; they wait more than they work
    make_quiet all || return 1
    scripts 4 300 tests/service/*.sh
}

part_outside() {
    make_quiet all outside || return 1
    scripts 1 300 tests/outside/*.sh
}

part_season() { # always the same seasons; others in the soak: what a gardener's luck may bring has no end
    make_quiet all season || return 1
    SEED=1
    scripts 1 600 tests/season/*.sh
}

# What takes long, or longer than in `make check`: not part of it.
part_soak() {
    make_quiet all season || return 1
    KILLS=100 FETCHES=50000 IDLE_SECONDS=600
    export KILLS FETCHES IDLE_SECONDS
    scripts 1 1200 tests/soak/*.sh tests/service/killed.sh tests/service/rebuilt.sh tests/service/idle.sh \
        tests/season/season.sh
}

part_lint() {
    make_quiet lint TIDY=glance
}

run() { # PART: runs it, says how it went, and leaves its numbers in PART.count
    begun=$(date +%s)
    "part_$1" >"$logs/$1.log" 2>&1 </dev/null
    end=$?
    count=$(awk '/^[0-9]+ passed, [0-9]+ failed, [0-9]+ skipped$/ { passed += $1; failed += $3; skipped += $5; lines++ }
        END { if (lines) print passed, failed, skipped }' "$logs/$1.log")
    # shellcheck disable=SC2086 # three numbers
    set -- "$1" ${count:-0 1 0}
    # A part that ran nothing proved nothing.
    { [ "$end" -ne 0 ] || [ $(($2 + $4)) -eq 0 ]; } && [ "$3" -eq 0 ] && set -- "$1" "$2" 1 "$4"
    echo "$2 $3 $4" >"$logs/$1.count"
    {
        if [ "$3" -gt 0 ]; then
            grep -v '^[0-9]* passed, ' "$logs/$1.log" | tail -n 120
        elif [ "$1" = outside ] || [ "$1" = season ] || [ "$1" = soak ]; then
            grep -v '^[0-9]* passed, ' "$logs/$1.log"
        fi
        printf '%-36s %5d passed %4d failed %4d skipped   %4d s\n' "$(name_of "$1")" "$2" "$3" "$4" $(($(date +%s) - begun))
    } >"$logs/$1.report"
    cat "$logs/$1.report" # at once, so that the two lanes do not mix
}

name_of() {
    case $1 in
    build) echo "build" ;;
    tests) echo "unit and property tests" ;;
    sanitizers) echo "the same under ASan and UBSan" ;;
    replay) echo "fuzz seeds replayed" ;;
    valgrind) echo "unit tests and programs, valgrind" ;;
    cli) echo "the program as a gardener runs it" ;;
    outside) echo "against outside sources" ;;
    season) echo "seasons played by gardeners" ;;
    service) echo "the service among real clients" ;;
    lint) echo "lint" ;;
    soak) echo "what takes long" ;;
    *) return 1 ;;
    esac
}

lane() {
    for part in "$@"; do
        run "$part"
    done
}

parts="build tests sanitizers replay valgrind cli outside season service lint"
if [ $# -gt 0 ]; then
    parts=$*
    for part in $parts; do
        name_of "$part" >/dev/null || { echo "no part is called $part" >&2; exit 2; }
    done
    rm -f "$logs"/*.count
    # shellcheck disable=SC2086
    lane $parts
else # much of the time one lane waits: for a server, a clock, one program that runs alone
    rm -f "$logs"/*.count
    lane build
    (renice -n 10 -p "$(sh -c 'echo $PPID')" >/dev/null 2>&1; lane sanitizers replay valgrind lint) &
    lane tests cli outside season service
    wait
fi
sum_passed=0 sum_failed=0 sum_skipped=0
for part in $parts; do
    read -r passed failed skipped <"$logs/$part.count" || passed=0 failed=1 skipped=0
    sum_passed=$((sum_passed + passed)) sum_failed=$((sum_failed + failed)) sum_skipped=$((sum_skipped + skipped))
done
echo "$sum_passed passed, $sum_failed failed, $sum_skipped skipped"
[ "$sum_failed" -eq 0 ]
