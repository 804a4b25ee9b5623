#!/bin/sh
# How many calendar events a season of hourly forecasts raises, without calm and with it; tests/outside/calm_year.c says how
# the forecasts err. The demo garden on recorded weather, its notes written on their days.
#
#   calm_year.sh        15 March to 12 July, every hour: 2 880 evaluations, a minute
#   calm_year.sh year   the whole of the year, every hour: 8 760 evaluations, some three minutes
# SEED in the environment repeats a run.
set -eu
B=${B:-build}
folder=$B/outside/calm_year
SEED=${SEED:-$(date +%s)}
from=2015-03-15 days=120
[ "${1:-}" = year ] && from=2014-12-22 days=365 # the record ends with 2015, and the forecast looks ten days on
rm -rf "$folder"
mkdir -p "$folder"
cp -r contrib/demo/. "$folder"
cp tests/data/seattle-weather.csv "$folder/weather.csv"
sed -e 's/^record_ahead .*/record_ahead = 0 days/' -e 's/^\(observed\|past_years\) .*/\1 = weather.csv/' contrib/demo/garden.ini \
    >"$folder/days.garden.ini"
# Each job on its best day, but for one play.
sed 's/ days\.ini,//' "$folder/days.garden.ini" >"$folder/garden.ini"

passed=0 failed=0
play() { # HOURS NOISE FILE [GARDEN]
    "$B/tests/outside/calm_year" "$folder/${4:-garden.ini}" rules contrib/demo/notes "$from" "$days" "$1" "$2" "$SEED" >"$3"
}
figure() { # FILE LINE NAME
    awk -v line="$2" -v name="$3" '$1 == line { for (i = 2; i < NF; i++) if ($i == name) print $(i + 1) }' "$1"
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
show() { # FILE WORDS
    echo "$2:"
    for which in without with; do
        printf '  %-7s calm: %6d raised, %4d came, %4d went; mornings %6d raised; at most %d at once\n' $which \
            "$(figure "$1" $which raised)" "$(figure "$1" $which came)" "$(figure "$1" $which went)" \
            "$(figure "$1" $which mornings)" "$(figure "$1" $which at_once)"
    done
}

echo "seed $SEED; $days days from $from"
play 1 1 "$folder/hourly"
show "$folder/hourly" "$(sed -n 's/evaluations //p' "$folder/hourly") hourly forecasts that err (SEQUENCE raised on job events)"
play 24 0 "$folder/right"
show "$folder/right" "one forecast a day, and right: what has to move"

without=$(figure "$folder/hourly" without raised) with=$(figure "$folder/hourly" with raised)
holds "the forecasts were not too tame: without calm at least 20 events are raised a day" "$without" -ge $((20 * days))
holds "calm raises at most a sixth" $((6 * with)) -le "$without"
holds "calm raises the mornings at most a third as often" $((3 * $(figure "$folder/hourly" with mornings))) -le \
    "$(figure "$folder/hourly" without mornings)"
holds "events come and go less often" $(($(figure "$folder/hourly" with came) + $(figure "$folder/hourly" with went))) -le \
    $(($(figure "$folder/hourly" without came) + $(figure "$folder/hourly" without went)))
holds "there are jobs that look for room in a bed" "$(figure "$folder/hourly" with rooms)" -ge 3
holds "such a job comes, and changes ten times at most in a season of wobbling forecasts" "$(figure "$folder/hourly" with rooms)" -le 60
holds "a forecast that is right is not made worse by calm" "$(figure "$folder/right" with raised)" -le \
    "$(figure "$folder/right" without raised)"
if [ "${1:-}" != year ]; then # the same again is the same, to the byte
    play 24 1 "$folder/one"
    play 24 1 "$folder/other"
    if cmp -s "$folder/one" "$folder/other"; then passed=$((passed + 1)); else failed=$((failed + 1)); fi
    play 24 1 "$folder/days" days.garden.ini
    show "$folder/one" "a forecast a day that errs"
    show "$folder/days" "the same with the gardener's days"
    holds "days to do them on raise events at most half as often again" $((2 * $(figure "$folder/days" with raised))) -le \
        $((3 * $(figure "$folder/one" with raised)))
fi
echo "$passed passed, $failed failed, 0 skipped"
[ $failed -eq 0 ]
