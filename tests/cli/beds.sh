#!/bin/sh
# beds: what stands in the demo's beds, as text and for scripts.
. tests/cli/lib.sh

demo() {
    run "$1" --garden contrib/demo/garden.ini --date 2015-06-10 "$2" ${3+"$3"} ${4+"$4"}
}
demo 0 beds
says out "^The south bed, " "garlic (garlic-1)" "^  free now " "^  tray of kale"
same "no line is wider than a telephone" "$(LC_ALL=C.UTF-8 grep -c '.\{45,\}' "$work/out")" 0
demo 0 beds south
same "one bed alone" "$(grep -c '^The ' "$work/out")" 1
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
finish
