#!/bin/sh
# Water in the ground over the recorded years against books kept by a program of our own in another language.
set -eu
B=${B:-build}
folder=$B/outside/water
rm -rf "$folder"
mkdir -p "$folder"
cp tests/data/seattle-weather.csv "$folder/weather.csv"
/usr/bin/python3 tests/outside/water.py write "$folder"
"$B/tests/outside/water_table" "$folder/garden.ini" rules 2015-12-31 >"$folder/table"
/usr/bin/python3 tests/outside/water.py compare "$folder" "$folder/table"
