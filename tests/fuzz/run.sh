#!/bin/sh
# tests/fuzz/run.sh TARGET... : runs each libFuzzer target for FUZZ_SECONDS; new inputs and any crash stay in build/.
set -u
B=${B:-build} status=0
for target in "$@"; do
    work=$B/fuzz/corpus/$target
    mkdir -p "$work" "$B/fuzz/found"
    # shellcheck disable=SC2046 # a list of folders
    "$B/fuzz/fuzzers/$target" -max_total_time="${FUZZ_SECONDS:-300}" -timeout=10 -rss_limit_mb=1024 -max_len=16384 \
        -artifact_prefix="$B/fuzz/found/$target-" -print_final_stats=1 "$work" $(sh tests/fuzz/seeds.sh "$target") \
        >"$B/fuzz/$target.log" 2>&1
    end=$?
    if [ $end -eq 0 ]; then
        runs=$(awk '/number_of_executed_units/ { print $2 }' "$B/fuzz/$target.log")
        echo "$target: clean, $runs runs in ${FUZZ_SECONDS:-300} s"
    else
        tail -n 40 "$B/fuzz/$target.log"
        echo "$target: exit status $end; the input is in $B/fuzz/found/"
        status=1
    fi
done
exit $status
