#!/bin/sh
# What dewbell writes for the demo garden, under valgrind.
. tests/valgrind/lib.sh

demo 0 --text "two rows" note carrot-1 thinned 25 June
demo 1 note carrot-1 thinnd
demo 0 notes
says out "two rows"
demo 0 strike 1
demo 0 --new token
demo 0 feed --out "$work/feeds"
says out "jobs.ics"

nothing_found
finish
