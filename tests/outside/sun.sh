#!/bin/sh
# Sunrise, sunset, day length, polar day and night, equinoxes and solstices against PyEphem (Debian: python3-ephem), which
# holds the full planetary theory. SEED in the environment repeats a run.
set -eu
if ! /usr/bin/python3 -c 'import ephem' 2>/dev/null; then
    echo "python3-ephem is not installed"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
B=${B:-build}
folder=$B/outside/sun
mkdir -p "$folder"
SEED=${SEED:-$(date +%s)}
/usr/bin/python3 tests/outside/sun.py ask "$SEED" >"$folder/questions"
"$B/tests/outside/sun_table" <"$folder/questions" >"$folder/answers"
/usr/bin/python3 tests/outside/sun.py compare "$SEED" "$folder/questions" "$folder/answers"
