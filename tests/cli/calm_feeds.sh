#!/bin/sh
# Feeds of a garden whose forecast changes its mind: nothing moves that need not, what must moves at once, and nothing else
# with it. The clock that stamps events is SOURCE_DATE_EPOCH, the day is --date.
. tests/cli/lib.sh
garden=$work/garden plan=$work/garden/garden.ini
mkdir "$garden"
cat >"$plan" <<'END'
[garden]
name = Tarn Hollow
key  = 5f0c6b1e-8d6b-4a53-9a1f-0f0f5a7c2b10
latitude  = 52.1
longitude = 0.1
zone      = Europe/London
rules     = own

[weather]
observed = observed.csv
forecast = forecast.csv
past_years = observed.csv
columns  = date=date, low=low [°C], high=high [°C], rain=rain [mm]

[bed north]

[sowing carrot-1]
crop = carrot
bed  = north
row  = 3 m
sow  = 2026-04-10
sown = 2026-04-10

[sowing carrot-2]
crop = carrot
bed  = north
row  = 2 m
sow  = 2026-05-20

[sowing beetroot-1]
crop = beetroot
bed  = north
row  = 2 m
sow  = 2026-05-24
END
mkdir "$garden/own"

# weather DAY SHIFT FROST: mild days of 6 to 16 degrees up to yesterday, then ten forecast ones that many degrees off, with a
# frost so many days ahead (-: none).
weather() {
    /usr/bin/python3 - "$garden" "$@" <<'END'
import datetime, sys
folder, day, shift, frost = sys.argv[1:]
day, shift = datetime.date.fromisoformat(day), float(shift)
def write(name, first, count, shift, frost):
    with open(f"{folder}/{name}.csv", "w") as out:
        print("date,low,high,rain", file=out)
        for i in range(count):
            low = -3 if frost is not None and i == frost else 6 + shift
            print(first + datetime.timedelta(i), low, max(16 + shift, low), 1, sep=",", file=out)
start = datetime.date(2024, 1, 1)
write("observed", start, (day - start).days, 0, None)
write("forecast", day, 10, shift, None if frost == "-" else int(frost))
END
}

now=1777000000
feed() { # DAY
    now=$((now + 3600))
    SOURCE_DATE_EPOCH=$now run 0 --garden "$plan" --date "$1" feed
}

# "UID SEQUENCE DTSTART SUMMARY-without-blanks", a line an event, in order of UID.
events() {
    tr -d '\r' <"$garden/feeds/jobs.ics" | awk '
        /^ / { next }
        /^BEGIN:VEVENT/ { uid = "" }
        /^UID:/ { uid = substr($0, 5) } /^SEQUENCE:/ { sequence = substr($0, 10) } /^DTSTART/ { sub(/.*:/, ""); start = $0 }
        /^LAST-MODIFIED:/ { modified = substr($0, 15) }
        /^SUMMARY:/ { gsub(/ /, "_"); summary = substr($0, 9) }
        /^END:VEVENT/ { print uid, sequence, start, modified, summary }' | sort
}
# Of two lists of events: how many are in both, how many of these rose in SEQUENCE and LAST-MODIFIED both, in one only.
compare() {
    join "$1" "$2" | awk '{ both++; if ($6 > $2 && $8 > $4) rose++; else if ($6 != $2 || $8 != $4) odd++ }
        END { print both + 0, rose + 0, odd + 0 }'
}

weather 2026-04-20 0 -
feed 2026-04-20
sums=$(cat "$garden"/feeds/*.ics | sha256sum)
events >"$work/first"
[ "$(wc -l <"$work/first")" -ge 5 ]
same "there are jobs" $? 0

# The same forecast 24 times over: the same bytes.
for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24; do feed 2026-04-20; done
same "the same forecast, the same bytes" "$(cat "$garden"/feeds/*.ics | sha256sum)" "$sums"

# A degree more or less within the day: the same bytes; without what was published the dates do shift.
shifted=0
best() { # [WORDS...]: the best days of all jobs
    "$program" --rules "$rules" --garden "$plan" --date 2026-04-20 "$@" --json jobs 2026-04-01 2026-12-31 |
        /usr/bin/python3 -c 'import json,sys; print([(j["job"], j["best"]) for j in json.load(sys.stdin)])'
}
kept=$(best)
for shift in 1 -1 2 -2 0.5; do
    weather 2026-04-20 $shift -
    feed 2026-04-20
    same "a shift of $shift degrees" "$(cat "$garden"/feeds/*.ics | sha256sum)" "$sums"
    same "jobs and calendar agree" "$(best)" "$kept"
    [ "$(best --state "$work/nothing-published")" = "$kept" ] || shifted=$((shifted + 1))
done
same "the shifts were felt" "$([ $shifted -gt 0 ] && echo yes)" yes

# Today's job, and the forecast turns at noon, by eight degrees: today's event is as it was. Tomorrow it may move.
weather 2026-04-24 4 -
feed 2026-04-24
events >"$work/before"
weather 2026-04-24 -4 -
feed 2026-04-24
events >"$work/after"
same "today's events stay" "$(awk '$3 == 20260424' "$work/after")" "$(awk '$3 == 20260424' "$work/before")"
same "there were some" "$([ -n "$(awk '$3 == 20260424' "$work/before")" ] && echo yes)" yes

# Swings of 3 degrees, every day up to the 20th of May, several looks a day: how often an event changes.
day=2026-04-24 raised=0
for i in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24 25 26; do
    day=$(date -d "$day + 1 day" +%F)
    events >"$work/before"
    for shift in $((i % 2 * 6 - 3)) $((3 - i % 2 * 6)) 0; do
        weather "$day" "$shift" -
        feed "$day"
    done
    events >"$work/after"
    # shellcheck disable=SC2046
    set -- $(compare "$work/before" "$work/after")
    same "SEQUENCE and LAST-MODIFIED rise together" "$3" 0
    join "$work/before" "$work/after" >"$work/both"
    raised=$((raised + $(awk '{ n += $6 - $2 } END { print n + 0 }' "$work/both")))
    # Two looks in a day may move a job once; a change of its state with the new day is one more.
    same "no event changes more than twice in a day" "$(awk '$6 - $2 > 2' "$work/both")" ""
done
echo "26 days of swings of 3 degrees, 78 forecasts: $raised events changed"
[ $raised -le 52 ]
same "few events changed" $? 0

# A frost tonight comes at once, and stays for the day whatever the next forecast says.
weather 2026-05-20 0 -
feed 2026-05-20
events >"$work/before"
weather 2026-05-20 0 1
feed 2026-05-20
events >"$work/after"
same "frost tonight" "$(join -v 2 "$work/before" "$work/after" | awk '{ print $3, $5 }' | grep -c 20260520)" 1
frost=$(join -v 2 "$work/before" "$work/after" | awk '{ print $1 }' | head -n 1)
weather 2026-05-20 0 -
feed 2026-05-20
same "it stays for the day" "$(events | grep -c "^$frost ")" 1
run 0 --garden "$plan" --date 2026-05-20 jobs
job=$(grep -o 'cover[a-z-]*/[a-z0-9/-]*\|fleece[a-z-]*/[a-z0-9/-]*' "$work/out" | head -n 1)
run 0 --garden "$plan" --date 2026-05-20 why "$job"
says out "weather has eased since"

# A sowing put off by three days: its events move, with the same UIDs, and no other.
events >"$work/before"
sed -i 's/^sow  = 2026-05-24/sow  = 2026-05-27/' "$plan"
feed 2026-05-20
events >"$work/after"
same "the same UIDs" "$(join -v 1 "$work/before" "$work/after" | wc -l) $(join -v 2 "$work/before" "$work/after" | wc -l)" "0 0"
join "$work/before" "$work/after" | awk '$6 != $2' >"$work/moved"
same "beetroot moved" "$([ -s "$work/moved" ] && echo yes)" yes
same "nothing else did" "$(grep -vi beetroot "$work/moved")" ""
same "its sowing by three days" "$(awk '/Sow/ { print $3, $7 }' "$work/moved")" "20260524 20260527"

# A rule's advice rewritten: that rule's events change, and no other.
events >"$work/before"
printf '[sow]\nhow = Sow them the way Odo does.\n' >"$garden/own/own.ini"
feed 2026-05-20
events >"$work/after"
join "$work/before" "$work/after" | awk '$6 != $2' >"$work/moved"
same "its events changed" "$(awk '{ print $5 }' "$work/moved" | grep -vc '^\(✓_\)*Sow')" 0
same "there were some" "$([ -s "$work/moved" ] && echo yes)" yes
same "and stayed where they were" "$(awk '$7 != $3' "$work/moved")" ""

# The record lost: the same UIDs, and no SEQUENCE below what it was.
events >"$work/before"
rm -r "$garden/.dewbell"
feed 2026-05-20
events >"$work/after"
join "$work/before" "$work/after" >"$work/both"
same "the UIDs are the same" "$(awk '{ print $1 }' "$work/after" | join -v 1 - "$work/before")" ""
same "no SEQUENCE fell" "$(awk '$6 < $2' "$work/both")" ""
finish
