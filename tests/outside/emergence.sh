#!/bin/sh
# Emergence over the recorded years against an integration of our own in another language.
set -eu
B=${B:-build}
folder=$B/outside/emergence
rm -rf "$folder"
mkdir -p "$folder/sowings"
cp tests/data/seattle-weather.csv "$folder/weather.csv"
/usr/bin/python3 tests/outside/emergence.py write "$folder"
"$B/tests/outside/emergence_table" "$folder/garden.ini" rules 2015-12-31 >"$folder/table"
/usr/bin/python3 tests/outside/emergence.py compare "$folder" "$folder/table"
