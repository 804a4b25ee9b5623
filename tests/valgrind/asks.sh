#!/bin/sh
# What dewbell is asked, of the demo garden, under valgrind.
. tests/valgrind/lib.sh

demo 0 today
says out "Friday 26 June"
demo 0 --json jobs 2015-06-01 2015-07-31
job=$(/usr/bin/python3 -c 'import json, sys; print(json.load(sys.stdin)[0]["job"])' <"$work/out")
demo 0 why "$job"
says out "^Why" "^How"
demo 1 why sow/nothing
demo 0 check
demo 0 crop carrot
demo 0 beds
demo 0 --json beds south
demo 0 beds north kale
demo 0 weather
demo 1 status
run 0 key

nothing_found
finish
