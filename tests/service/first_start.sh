#!/bin/sh
# A garden whose plan is broken from the very first: there is an address, and the feed there is a calendar that holds what is wrong
# and nothing else, so that a gardener who subscribes sees it on the phone. Read by icalendar (Debian's python3-icalendar).
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini
cat >>"$plan" <<END

[sowing probe-1]
crop = radish
bed  = north
sow  = $(date -d '+10 days' +%F)
END
cp "$plan" "$work/good.ini"
run 0 --garden "$plan" check
sed 's/^crop *= carrot$/crop = carrrot/' "$work/good.ini" >"$plan"
run 2 --garden "$plan" check
run 0 --garden "$plan" token
token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)

up() {
    rm -f "$work/log"
    serve --garden "$plan" --listen 127.0.0.1:0
    await 20 grep -q 'feeds are served at' "$work/log" || cat "$work/log"
    port=$(sed -n 's/.*feeds are served at 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/log" | head -n 1)
    address=http://127.0.0.1:$port/f/$token
}
fetch() { # all three, into $work
    for feed in jobs mornings tasks; do
        curl -sf -m 10 -D "$work/$feed.head" "$address/$feed.ics" >"$work/$feed.part" && mv "$work/$feed.part" "$work/$feed.ics" || return 1
    done
}
feed_has() {
    fetch && grep -q -- "$1" "$work/jobs.ics"
}
feed_lacks() {
    fetch && ! grep -q -- "$1" "$work/jobs.ics"
}
# One component in each feed: UIDs and SEQUENCE on a line of $work/now.
cat >"$work/read.py" <<'P'
import datetime, sys, uuid
from icalendar import Calendar
kinds = {"jobs": "VEVENT", "mornings": "VEVENT", "tasks": "VTODO"}
uids = set()
for feed, kind in kinds.items():
    data = open(f"{sys.argv[1]}/{feed}.ics", "rb").read()
    assert data.count(b"\n") == data.count(b"\r\n") and max(map(len, data.split(b"\r\n"))) <= 75
    calendar = Calendar.from_ical(data)
    assert not calendar.errors and str(calendar["VERSION"]) == "2.0" and "METHOD" not in calendar and "UID" not in calendar
    (event,) = calendar.subcomponents
    assert event.name == kind and not event.errors, event
    assert str(event["SUMMARY"]) == "Mistake in your plan: garden.ini line " + sys.argv[2], event["SUMMARY"]
    text = str(event["DESCRIPTION"])
    assert 'carrrot' in text and 'did you mean "carrot"?' in text and text.endswith("When it is mended the jobs will be here."), text
    assert uuid.UUID(str(event["UID"])).version == 5
    today = datetime.datetime.now(datetime.timezone.utc).date()
    if kind == "VEVENT": # all day, today (or the day that just ended)
        assert event["DTSTART"].params["VALUE"] == event["DTEND"].params["VALUE"] == "DATE"
        assert event["DTEND"].dt - event["DTSTART"].dt == datetime.timedelta(days=1)
        assert today - event["DTSTART"].dt <= datetime.timedelta(days=1)
    else:
        assert str(event["STATUS"]) == "NEEDS-ACTION" and today - event["DUE"].dt <= datetime.timedelta(days=1)
    assert event["DTSTAMP"].dt == event["LAST-MODIFIED"].dt
    uids.add(str(event["UID"]))
    print(event["UID"], int(event["SEQUENCE"]))
assert len(uids) == 3, uids
P
line=$(grep -n carrrot "$plan" | cut -d : -f 1)
read_feeds() { # NAME: what they are, on lines of $work/NAME
    /usr/bin/python3 "$work/read.py" "$work" "$line" >"$work/$1" 2>"$work/err" || cat "$work/err"
}

up
await 20 fetch
ok "there are feeds"
read_feeds before
same "each tells of the mistake" "$(wc -l <"$work/before")" 3
grep -q "there is no good plan to go by yet" "$work/log"
ok "the log says so"
run 0 --garden "$plan" status
says out "1 mistake; there is no good plan to go by yet" "feed  *jobs.ics: 1 entry"
tag=$(sed -n 's/^ETag: //Ip' "$work/jobs.head")

# Started again: the same at once. Another mistake: the same event, its SEQUENCE risen.
halt
up
fetch
ok "served at once after a restart"
await 20 grep -q 'no good plan' "$work/log"
fetch
same "the same bytes" "$(sed -n 's/^ETag: //Ip' "$work/jobs.head")" "$tag"
sed 's/carrrot/carrrots/' "$plan" >"$plan.new" && mv "$plan.new" "$plan"
await 20 feed_has 'carrrots'
ok "another mistake is told"
read_feeds after
same "the same events" "$(cut -d ' ' -f 1 "$work/after")" "$(cut -d ' ' -f 1 "$work/before")"
same "SEQUENCE risen by one" "$(cut -d ' ' -f 2 "$work/after")" "$(awk '{ print $2 + 1 }' "$work/before")"

# Mended: the jobs, with a SEQUENCE as high as in any garden without a ledger; then broken again: they stay.
cp "$work/good.ini" "$plan.new" && mv "$plan.new" "$plan"
await 20 feed_lacks 'Mistake in your plan'
grep -q 'SUMMARY:Sow' "$work/jobs.ics"
ok "mended, the jobs are there"
minutes=$((($(date +%s) - 1767225600) / 60)) # since 2026 began
same "no SEQUENCE below what a lost ledger may have given out" \
    "$(tr -d '\r' <"$work/jobs.ics" | sed -n 's/^SEQUENCE://p' | awk -v m=$minutes '$1 < m - 10' | wc -l)" 0
sed 's/^crop *= carrot$/crop = carrrot/' "$work/good.ini" >"$plan.new" && mv "$plan.new" "$plan"
await 20 feed_has 'Mistake in your plan'
grep -q 'SUMMARY:Sow' "$work/jobs.ics"
ok "broken again, the jobs stay"
# Even where what was put by is gone: rather the old jobs than none.
halt
rm -r "$work/plot/.dewbell"/good*
up
await 20 grep -q 'no good plan' "$work/log"
fetch
grep -q 'SUMMARY:Sow' "$work/jobs.ics"
ok "without the good copies, too"
halt

# No plan at all yet.
mkdir "$work/bare"
plan=$work/bare/garden.ini
echo '[garden]' >"$plan"
run 0 --garden "$plan" token
token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)
rm "$plan"
up
await 20 feed_has 'SUMMARY:Mistake in your plan: garden.ini'
ok "a plan that is not there is told, too"
grep -q 'there is no file or folder' "$work/jobs.ics"
ok "in these words"
cp "$work/good.ini" "$plan"
await 20 feed_has 'SUMMARY:Sow'
ok "it comes"
halt
same "it ends well" "$ended_with" 0
finish
