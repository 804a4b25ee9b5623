#!/bin/sh
# A newcomer copies the README's plan, makes the slips that newcomers make, and gets to jobs, notes and feeds.
. tests/cli/lib.sh
plan=$work/garden/garden.ini
mkdir "$work/garden"

run 3 --garden "$plan" today
says err "there is no plan"

readme_plan >"$plan"
run 0 --garden "$plan" check
says out "No mistakes" "Of the last frost nothing is known: write last_frost in .garden., or past_years"
sed 's/^latitude /first_frost = 20 October\n&/' "$plan" >"$work/garden/frost.ini"
run 0 --garden "$work/garden/frost.ini" --date 2026-04-10 check
says out "The first frost of autumn is due from 20 October on, as the plan says." "Of the last frost nothing is known"
rm "$work/garden/frost.ini"
run 0 --garden contrib/demo/garden.ini --state "$work/demo" --date 2015-06-27 check
says out "The last frost of spring is over by 20 March in all years (3 on record)." \
    "The first frost of autumn is due from 11 November on in all years (3 on record)."
run 0 --garden "$plan" --date 2026-04-10 today
says out "Sow carrots"
run 0 --garden "$plan" --date 2026-04-10 jobs
says out "sow/carrot-1"
run 0 --garden "$plan" --date 2026-04-10 why sow/carrot-1
says out "^Why" "^How" "dewbell note carrot-1 sown"
run 1 --garden "$plan" --date 2026-04-10 why sow/carot-1
says err "did you mean \"sow/carrot-1\""

# Slips: each is named with its line and what to write.
sed 's/^crop = carrot/crop = carot/; s/^row  = 3 m/row  = 3/; s/2026-04-18/2026-04-31/; s/^latitude .*/lattitude = 52.1/' \
    "$plan" >"$work/garden/slips.ini"
run 2 --garden "$work/garden/slips.ini" today
says err "carot" "did you mean \"carrot\"" "3 m" "April has 30 days" "lattitude" "did you mean \"latitude\"" \
    "mistakes; nothing was written"
same "nothing was written" "$(ls "$work/garden" -A | tr '\n' ' ')" "garden.ini slips.ini "

# Notes: refused when they cannot be true, kept when they are, struck out without losing them.
run 1 --garden "$plan" --date 2026-04-20 note carrot-2 up
says err "did you mean \"carrot-1\""
run 1 --garden "$plan" --date 2026-04-20 note carrot-1 upp
says err "did you mean \"up\""
run 1 --garden "$plan" --date 2026-04-20 note carrot-1 sown 2026-04-21
says err "still to come"
run 64 --garden "$plan" --date 2026-04-20 note carrot-1 sown 2026-04-31
says err "no day"
run 0 --garden "$plan" --date 2026-04-20 note carrot-1 sown 12 April
says out "Noted: carrot-1 sown on Sunday 12 April 2026 (note 1)" "done: Sow carrots"
run 1 --garden "$plan" --date 2026-04-20 note carrot-1 up 2026-04-11
says err "before that"
run 1 --garden "$plan" --date 2026-04-20 note carrot-1 sown 13 April
says err "already (note 1)" "dewbell strike 1"
run 0 --garden "$plan" --date 2026-04-20 strike 1
run 1 --garden "$plan" --date 2026-04-20 strike 1
run 0 --garden "$plan" --date 2026-04-20 --text "two rows" note carrot-1 sown 13 April
run 0 --garden "$plan" --date 2026-04-20 notes
says out "1 .*struck out" "2 .*two rows"
run 0 --garden "$plan" --json notes
same "notes as JSON" "$(/usr/bin/python3 -c 'import json,sys; print([n["struck"] for n in json.load(sys.stdin)])' <"$work/out")" \
    "[True, False]"

# A note beats the model and moves what follows.
run 0 --garden "$plan" --date 2026-05-20 --json jobs 2026-04-01 2026-07-30
before=$(/usr/bin/python3 -c 'import json,sys
print([j["best"] for j in json.load(sys.stdin) if j["job"] == "thin-the-row/carrot-1"])' <"$work/out")
run 0 --garden "$plan" --date 2026-05-20 note carrot-1 up 2026-05-10
run 0 --garden "$plan" --date 2026-05-20 --json jobs 2026-04-01 2026-07-30
after=$(/usr/bin/python3 -c 'import json,sys
print([j["best"] for j in json.load(sys.stdin) if j["job"] == "thin-the-row/carrot-1"])' <"$work/out")
same "the note moved the thinning" "$([ "$before" != "$after" ] && echo moved)" moved
[ -n "$before" ] && [ "$before" != "[]" ]
same "there was a thinning job" $? 0

# Feeds: written, then byte-identical when nothing changed.
run 0 --garden "$plan" --date 2026-05-20 feed
sums=$(cat "$work"/garden/feeds/*.ics | sha256sum)
run 0 --garden "$plan" --date 2026-05-20 feed
says out "the file is as it was"
same "feeds unchanged" "$(cat "$work"/garden/feeds/*.ics | sha256sum)" "$sums"

# A plan with a mistake leaves the feeds as they were.
sed 's/^crop = carrot/crop = carot/' "$plan" >"$plan.new" && mv "$plan.new" "$plan"
run 2 --garden "$plan" --date 2026-05-21 feed
same "feeds untouched by a broken plan" "$(cat "$work"/garden/feeds/*.ics | sha256sum)" "$sums"
finish
