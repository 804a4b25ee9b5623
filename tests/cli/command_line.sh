#!/bin/sh
# The command line itself: help, slips in commands and options, exit statuses, JSON, colour.
. tests/cli/lib.sh
plan=$work/garden.ini
readme_plan >"$plan"

run 64
run 0 --help
says out "Commands" "Exit status"
run 0 --version
run 64 tody
says err "did you mean \"today\""
run 64 today now
says err "write: dewbell today"
run 64 --gardn x today
run 64 --garden
run 64 --garden "$plan" --date 2026-06-31 today
says err "the calendar has no day"
run 64 --garden "$plan" --date soon today
says err "is not a date"
run 64 --garden "$plan" jobs 2026-05-02 2026-05-01
says err "ends before it begins"
run 0 --garden "$plan" crop
[ "$(wc -l <"$work/out")" -ge 40 ]
same "at least 40 crops" $? 0
run 0 --garden "$plan" crop carrot
says out "family .*Apiaceae" "emergence .*50.6 days"
run 1 --garden "$plan" crop carot
says err "did you mean \"carrot\""
run 0 --garden "$plan" --json crop carrot
same "crop as JSON" "$(/usr/bin/python3 -c 'import json,sys; print(json.load(sys.stdin)["family"]["value"])' <"$work/out")" Apiaceae
run 0 --garden "$plan" --date 2026-04-10 --json today
same "jobs as JSON" "$(/usr/bin/python3 -c 'import json,sys
jobs = json.load(sys.stdin)
assert all(j["first"] <= j["best"] == j["on"] <= j["last"] for j in jobs)
print("sow/carrot-1" in [j["job"] for j in jobs])' <"$work/out")" True
run 0 key
run 3 --garden "$plan" --state /proc/nowhere note carrot-1 sown 2026-04-10
# No escape sequences where nobody looks through a terminal.
run 0 --garden "$plan" --date 2026-04-10 today
same "no colour in a pipe" "$(tr -d '\n' <"$work/out" | tr -cd '\033' | wc -c)" 0
# Full disk: the answer could not be written, and the exit status says so.
"$program" --rules "$rules" --garden "$plan" --date 2026-04-10 jobs >/dev/full 2>"$work/err"
same "a full disk is told" $? 3
finish
