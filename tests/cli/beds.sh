#!/bin/sh
# beds: what stands in the demo's beds, as text and for scripts.
. tests/cli/lib.sh

demo() {
    status=$1
    shift
    run "$status" --garden contrib/demo/garden.ini --date 2015-06-10 "$@"
}
demo 0 beds
says out "^The south bed, " "garlic (garlic-1)" "^  free now " "^  tray of kale"
same "no line is wider than a telephone" "$(LC_ALL=C.UTF-8 grep -c '.\{45,\}' "$work/out")" 0
demo 0 beds south
same "one bed alone" "$(grep -c '^The ' "$work/out")" 1
# In feet, the unit of a range is said once.
mkdir -p "$work/feet" && cp -r contrib/demo/. "$work/feet" && cp tests/data/seattle-weather.csv "$work/feet"
sed -i -e 's/^units .*/units = imperial/' -e 's/= .*\(seattle-weather.csv\)/= \1/' "$work/feet/garden.ini"
run 0 --garden "$work/feet/garden.ini" --date 2015-06-10 beds south
says out "^    from [0-9A-Za-z ]* [0-9]* sq ft ([0-9.]* to [0-9.]* sq" "^The south bed, 129 sq ft"
# Raw manure: 120 days from 1 April 2015 are 30 July, 90 are 30 June (7 CFR 205.203).
mkdir -p "$work/dug" && cp -r contrib/demo/. "$work/dug" && cp tests/data/seattle-weather.csv "$work/dug"
sed -i 's/= .*\(seattle-weather.csv\)/= \1/' "$work/dug/garden.ini"
sed -i 's/^\[bed north\]/&\nmanured = 2015-04-01/' "$work/dug/beds.ini"
run 0 --garden "$work/dug/garden.ini" --date 2015-06-10 beds north
says out "^  manured 1 April: to be harvested from 30" "^    30 June$" "^    ! ready .* but manured"
run 0 --garden "$work/dug/garden.ini" --date 2015-06-10 jobs 2015-04-12 2015-09-01
says out "Leave the .* in the north bed until 30 July: manured on 1 April"
demo 1 beds suoth
says err "did you mean \"south\""
demo 0 --json beds
same "beds as JSON" "$(/usr/bin/python3 -c 'import json,sys
beds = json.load(sys.stdin)
assert all(s["from"]["early"] <= s["from"]["likely"] <= s["from"]["late"] for b in beds for s in b["stays"])
south = [b for b in beds if b["bed"] == "south"][0]
free = south["free"]
assert free[0]["from"] == "2015-06-10" and all(0 <= f["ground"]["least"] <= f["ground"]["most"] for f in free)
print("garlic-1" in [s["sowing"] for s in south["stays"]])' <"$work/out")" True
# 1.2 x 10 m: kale at 45 cm both ways stands in 2 rows of 22, or across it in 22 rows of 2, which are 26.4 m.
demo 0 beds north kale
says out "^  44 in rows, [0-9]* staggered" "^  26.4 m of rows" "^  free today "
demo 1 beds north kal
says err "did you mean \"kale\""
demo 1 beds bench kale
says err "write size = "
demo 0 --json beds north carrot
# 40 rows across it, 1.2 m each, hold 20 plants each; 67 seeds a metre, 880 to the gram.
same "carrots at 6 cm in rows 25 cm apart" "$(/usr/bin/python3 -c 'import json,sys
fit = json.load(sys.stdin)
print(fit["in_rows"], fit["row"], fit["seeds_a_metre"], round(fit["seed"], 2))' <"$work/out")" "800 48 67 3.65"
finish
