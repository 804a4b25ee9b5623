#!/bin/sh
# Frost odds of the recorded years, and of made-up ones with gaps, against a count of our own in another language. SEED in
# the environment repeats a run.
set -eu
B=${B:-build}
folder=$B/outside/frost
rm -rf "$folder"
mkdir -p "$folder"
SEED=${SEED:-$(date +%s)}
/usr/bin/python3 tests/outside/frost.py ask "$SEED" "$folder" >"$folder/questions"
"$B/tests/outside/frost_table" <"$folder/questions" >"$folder/answers"
/usr/bin/python3 tests/outside/frost.py compare "$SEED" "$folder/questions" "$folder/answers"
