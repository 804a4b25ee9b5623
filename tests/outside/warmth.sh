#!/bin/sh
# The days by which a season's warmth was gathered, as rules ask for them (warmed()), against sums of our own in another language:
# eight recorded years of two places, both halves of the world.
set -eu
B=${B:-build}
folder=$B/outside/warmth
rm -rf "$folder"
mkdir -p "$folder"
/usr/bin/python3 tests/outside/warmth.py "$B/dewbell" "$folder"
