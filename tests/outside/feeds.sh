#!/bin/sh
# The demo garden's feeds, read by libraries that know nothing of ours: python3-icalendar and vobject (Debian), ical.js (npm).
# All must see the same events, and those that `jobs --json` tells of. Three days are stood on, one after the other, over one
# ledger: what changed from one to the next must have risen, what did not must be the same bytes.
set -eu
B=${B:-build}
folder=$B/outside/feeds
rm -rf "$folder"
mkdir -p "$folder/state"

dewbell() {
    "$B/dewbell" --garden contrib/demo/garden.ini --state "$folder/state" --rules rules "$@"
}

reader=
if command -v npm >/dev/null && command -v node >/dev/null; then
    mkdir -p "$B/node"
    if [ -d "$B/node/node_modules/ical.js" ] ||
        timeout 100 npm install --prefix "$B/node" --no-audit --no-fund --no-save ical.js@2 >"$folder/npm.log" 2>&1; then
        reader=$B/node/node_modules/ical.js/dist/ical.es5.cjs
    fi
fi
[ -n "$reader" ] || echo "ical.js could not be had (npm is missing or its registry out of reach): not compared with it"

days="2015-03-03 2015-06-26 2015-06-27"
for day in $days; do
    # a note on the way, so that something is done
    [ "$day" != 2015-06-26 ] || grep -v -e '^[#;]' -e '^ *$' contrib/demo/notes | sort -k 3 | while read -r sowing word date; do
        [ "$(printf '%s\n%s\n' "$date" "$day" | sort | head -n 1)" != "$date" ] ||
            dewbell --date "$date" note "$sowing" "$word" "$date" >>"$folder/notes.log"
    done
    dewbell --date "$day" --all feed --out "$folder/$day" >>"$folder/feed.log"
    mv "$folder/$day/jobs.ics" "$folder/$day/first.ics"
    dewbell --date "$day" --all feed --out "$folder/$day" >>"$folder/feed.log"
    dewbell --date "$day" --json jobs 1990-01-01 2090-01-01 >"$folder/$day/jobs.json"
    if [ -n "$reader" ]; then
        for feed in jobs mornings; do
            node tests/outside/feeds.cjs "$reader" "$folder/$day/$feed.ics" >"$folder/$day/$feed.js.json"
        done
    fi
done
# shellcheck disable=SC2086 # a list of words
/usr/bin/python3 tests/outside/feeds.py contrib/demo/garden.ini "$folder" $days
