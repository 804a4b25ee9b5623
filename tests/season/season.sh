#!/bin/sh
# A whole season of the demo garden, played day by day by simulated gardeners in a cool year and in a record-hot one;
# tests/season/season.c says how, and what each figure is.
#
#   season.sh           1 February to 30 November of 2013 and of 2015, four gardeners each; and one who looks at everything, in
#                       a garden 600 m further up: 4 K colder all year (6.5 K a km, the standard atmosphere), so that frosts
#                       go on into May and come before the summer's crops are over
# SEED in the environment repeats a run.
set -eu
B=${B:-build}
folder=$B/season
SEED=${SEED:-$(date +%s)}
days=303
rm -rf "$folder"
mkdir -p "$folder"

passed=0 failed=0
# The demo's plan in another year: its dates are moved, and what would be sown after the play begins is only planned.
plan() { # YEAR FOLDER COLDER
    to=$folder/$2
    mkdir -p "$to"
    cp -r contrib/demo/. "$to"
    awk -F, -v OFS=, -v colder="$3" 'NR > 1 { $3 -= colder; $4 -= colder } { print }' tests/data/seattle-weather.csv >"$to/weather.csv"
    sed -e 's/^record_ahead .*/record_ahead = 0 days/' -e 's/^\(observed\|past_years\) .*/\1 = weather.csv/' \
        contrib/demo/garden.ini >"$to/garden.ini"
    for file in contrib/demo/sowings/*.ini; do
        awk -v year="$1" '
            function moved(line,  at) {
                at = match(line, /20[0-9][0-9]-/)
                return at ? substr(line, 1, at - 1) (substr(line, at, 4) - 2015 + year) substr(line, at + 4) : line
            }
            function flush(  i, sow, later) {
                for (i = 1; i <= n; i++) {
                    if (lines[i] ~ /^sow /) sow = 1
                    if (lines[i] ~ /^sown/ && substr(lines[i], match(lines[i], /20/), 10) >= year "-02-01") later = i
                }
                for (i = 1; i <= n; i++) {
                    if (i == later && sow) continue
                    if (i == later) sub(/^sown/, "sow", lines[i])
                    print lines[i]
                }
                n = 0
            }
            /^\[/ { flush() }
            { lines[++n] = moved($0) }
            END { flush() }' "$file" >"$to/sowings/$(basename "$file")"
    done
}
figure() { # FILE NAME
    sed -n "s/^$2 //p" "$1"
}
holds() { # WORDS TEST...
    words=$1
    shift
    if [ "$@" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "not so: $words ($*)"
    fi
}

echo "seed $SEED; $days days from 1 February"
for year in 2013 2015; do
    plan $year $year 0
    plan $year $year-up 4
    plan $year $year-gone 0 # away from the 140th day on, for two weeks
    echo "away = $year-06-21 .. $year-07-04" >>"$folder/$year-gone/days.ini"
    for gardener in watchful obedient away silent uphill; do
        out=$folder/$year-$gardener place=$year who=$gardener
        [ $gardener != away ] || place=$year-gone
        [ $gardener != uphill ] || { place=$year-up who=watchful; }
        "$B/tests/season/season" "$folder/$place/garden.ini" rules $year-02-01 $days $who "$SEED" >"$out" 2>"$out.said" ||
            { cat "$out.said"; exit 1; }
    done
done
set -- 2013-watchful 2013-obedient 2013-away 2013-silent 2013-uphill 2015-watchful 2015-obedient 2015-away 2015-silent 2015-uphill
{
    printf '%-20s' ''
    for run; do printf '%15s' "$run"; done
    echo
    for name in $(sed 's/ .*//' "$folder/$1"); do
        printf '%-20s' "$name"
        for run; do printf '%15s' "$(figure "$folder/$run" "$name")"; done
        echo
    done
} | tee "$folder/table"
for run in 2013-watchful 2013-obedient 2015-watchful 2015-obedient; do
    holds "$run: no job missed that could have been done" "$(figure "$folder/$run" missed)" -eq 0
    holds "$run: no job missed for want of time" "$(figure "$folder/$run" no_time_left)" -eq 0
    holds "$run: no board left on a row that has come up" "$(figure "$folder/$run" board_days_late)" -eq 0
done
for run in 2013-watchful 2013-obedient 2013-away 2015-watchful 2015-obedient 2015-away 2013-uphill 2015-uphill; do
    holds "$run: no job missed that could have been done on a day at home" "$(figure "$folder/$run" missed_at_home)" -eq 0
done
for run in 2013-silent 2015-silent; do
    holds "$run: no job missed that could have been done" "$(figure "$folder/$run" missed)" -eq 0
done
# One: a cold spell can keep a step while the days of the next run out.
for run in 2013-watchful 2013-obedient 2015-watchful 2015-obedient; do
    holds "$run: no step of hardening off before the one under it" "$(figure "$folder/$run" steps_too_soon)" -le 1
done
for run; do
    holds "$run: no day over its time of which the list did not say so" "$(figure "$folder/$run" days_over_unsaid)" -eq 0
    holds "$run: nothing tender planted before a frost that the forecast showed" "$(figure "$folder/$run" tender_into_frost)" -eq 0
    holds "$run: no tender crop lost to the first frost of autumn without a word" "$(figure "$folder/$run" frost_unwarned)" -eq 0
done
for run in 2013-uphill 2015-uphill; do
    holds "$run: frost came upon tender crops" "$(figure "$folder/$run" frost_met)" -gt 0
done
echo "$passed passed, $failed failed, 0 skipped"
[ $failed -eq 0 ]
