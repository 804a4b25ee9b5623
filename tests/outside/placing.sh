#!/bin/sh
# The placement of tasks on days against GLPK (Debian: glpk-utils): random cases as mixed integer programmes, with leaders and
# groups and days where tasks stood. It must prove the least cost, which ours may pass by a twentieth and may not go below.
# SEED in the environment repeats a run.
set -eu
if ! command -v glpsol >/dev/null; then
    echo "glpk-utils is not installed"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
B=${B:-build}
folder=$B/outside/placing
mkdir -p "$folder"
SEED=${SEED:-$(date +%s)}
echo "SEED=$SEED"
for tasks in 15 30 60; do
    for case in 1 2 3 4 5 6 7 8 9 10 11 12; do
        "$B/tests/outside/placing_lp" "$SEED" "$case" "$tasks" >"$folder/case.lp" 2>"$folder/case.cost"
        glpsol --lp "$folder/case.lp" --cuts --tmlim 10 -o "$folder/case.sol" >"$folder/case.log" 2>&1
        awk -v tasks="$tasks" -v ours="$(cat "$folder/case.cost")" '
            /^Status:/ { proven = /INTEGER OPTIMAL/ }
            /^Objective:/ { least = $4 }
            END { print tasks, ours, least, proven }' "$folder/case.sol"
    done
done >"$folder/all"
awk '
    !$4 { open++; next }
    { seen++; ratio = $3 ? $2 / $3 : $2 ? 1e9 : 1; sum += ratio; same += $2 == $3; if (ratio > worst) worst = ratio }
    ratio < 1 || ratio > 1.05 { wrong++; print "of " $1 " tasks: ours " $2 ", the least " $3 }
    END {
        printf "%d cases of 15 to 60 tasks: %d at the least cost that GLPK proved, mean %.4f of it, worst %.4f; %d not proven in 10 s\n",
            seen, same, sum / seen, worst, open
        printf "%d passed, %d failed, 0 skipped\n", seen - wrong, wrong + (seen < 24)
        exit wrong > 0 || seen < 24
    }' "$folder/all"
