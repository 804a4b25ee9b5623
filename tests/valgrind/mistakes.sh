#!/bin/sh
# What dewbell says of files, words and answers with mistakes, under valgrind.
. tests/valgrind/lib.sh
mkdir -p "$work/garden/mine"
plan=$work/garden/garden.ini

# Many kinds at once: in a plan, in rules of one's own, in a forecast's answer.
readme_plan | sed 's/^crop = carrot/crop = carot/; s/^row  = 3 m/row  = 3/; s/2026-04-18/2026-04-31/; s/^latitude .*/lattitude = 52.1/' \
    >"$plan"
printf '%s\n' '[garden' 'rules = mine' 'key' '[bed b]' 'name = "x' '[bed b]' 'cover = glas' >>"$plan"
run 2 --garden "$plan" today
says err "did you mean \"carrot\""
readme_plan | sed 's/^\[garden\]/&\nrules = mine/' >"$plan"
printf '%s\n' '[thin-the-row]' 'prefer = sum(rain, 2 days) > 3' '[new]' 'job = Do {crop.nothing} {' 'kind = Do' \
    'during = up .. up + 10' 'while = low < 2 K and (high >' 'every = 3' >"$work/garden/mine/rules.ini"
run 2 --garden "$plan" check
says err "rules.ini:"
readme_plan >"$plan"
run 0 --garden "$plan" --date 2026-06-01 weather --try tests/data/forecasts/columns.json --source open-meteo
run 2 --garden "$plan" --date 2026-06-01 weather --try tests/data/forecasts/columns.json --source met-norway
run 1 --garden "$plan" note carot-1 up
run 64 --garden "$plan" --date 2026-06-31 today
run 64 --garden "$plan" tody
run 3 --garden "$work/nowhere.ini" today

nothing_found
finish
