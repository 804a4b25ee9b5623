#!/bin/sh
# The service is killed in the middle of rewriting its feeds, again and again, a little later each time: at each start whole feeds
# are served before anything is worked out, those of before or those that were being made, and no event's SEQUENCE ever goes
# down. KILLS (30) says how often; `make soak` takes a hundred.
. tests/service/lib.sh
kills=${KILLS:-30}

garden plot
plan=$work/plot/garden.ini
cat >>"$plan" <<END

[sowing probe-1]
crop = carrot
bed  = north
sow  = $(date -d '+10 days' +%F)
END
cp "$plan" "$work/good.ini"
run 0 --garden "$plan" token
token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)

up() { # starts it and finds its address
    rm -f "$work/log" # the shell empties it in its own time: the address of before must not be found in it
    serve --garden "$plan" --listen 127.0.0.1:0
    await 20 grep -q 'feeds are served at' "$work/log" || cat "$work/log"
    port=$(sed -n 's/.*feeds are served at 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/log" | head -n 1)
    address=http://127.0.0.1:$port/f/$token
}
fetch() { # FILE: the feed into $work/FILE
    curl -sf -m 10 "$address/$1" >"$work/$1.part" && mv "$work/$1.part" "$work/$1"
}
feed_has() { # TEXT, in the jobs as served now
    fetch jobs.ics && grep -q -- "$1" "$work/jobs.ics"
}
up
await 20 feed_has 'SUMMARY:Sow'
ok "jobs are served"

cat >"$work/watch.py" <<'P'
# Reads feeds, sees that they are whole by icalendar, compares SEQUENCE with what was seen before.
import json, os, sys
from icalendar import Calendar
folder = sys.argv[1]
kept = folder + "/seen.json"
seen = json.load(open(kept)) if os.path.exists(kept) else {}
for name in sys.argv[2:]:
    data = open(f"{folder}/{name}", "rb").read()
    assert data.startswith(b"BEGIN:VCALENDAR\r\n") and data.endswith(b"END:VCALENDAR\r\n"), name
    count = 0
    for event in Calendar.from_ical(data).walk():
        if event.name in ("VEVENT", "VTODO"):
            uid, sequence = str(event["UID"]), int(event["SEQUENCE"])
            assert not event.errors, (name, uid, event.errors)
            assert sequence >= seen.get(uid, 0), (name, uid, sequence, seen[uid])
            seen[uid] = sequence
            count += 1
    assert count, name
json.dump(seen, open(kept, "w"))
P
all_fetched() { # as first.*: what is served at once
    for feed in jobs mornings tasks; do
        fetch "$feed.ics" && mv "$work/$feed.ics" "$work/first.$feed.ics" || return 1
    done
}
whole=0 turn=0
while [ "$turn" -lt "$kills" ]; do
    turn=$((turn + 1))
    # Each turn the bed has another name: all its events are rewritten while we kill.
    sed "/^\[bed north\]/a name = bed of turn $turn" "$work/good.ini" >"$plan.new" && mv "$plan.new" "$plan"
    kill -HUP "$daemon" 2>/dev/null
    # Later and later into the work: from before it begins to after it is done.
    /usr/bin/python3 -c "import time; time.sleep((1 + $turn % 30) * 0.012)"
    kill -KILL "$daemon"
    wait "$daemon" 2>/dev/null
    up
    if all_fetched && await 10 feed_has "bed of turn $turn" &&
        /usr/bin/python3 "$work/watch.py" "$work" first.jobs.ics first.mornings.ics first.tasks.ics jobs.ics; then
        whole=$((whole + 1))
    else
        echo "turn $turn:"
        cat "$work/log"
        break
    fi
done
same "whole feeds after being killed" "$whole" "$kills"
halt
same "it ends well" "$ended_with" 0
finish
