#!/bin/sh
# Another program writes to the record and does not let go of it for three seconds, while the plan changes, a reader asks for feeds
# without a pause, and the service is stopped and started: nobody who asks waits for it, nothing is lost, and what could not be
# written is written when it can be. No time is compared but with the three seconds themselves.
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini state=$work/plot/.dewbell
cat >>"$plan" <<END

[sowing probe-1]
crop = radish
bed  = north
sow  = $(date -d '+10 days' +%F)
END
cp "$plan" "$work/good.ini"
run 0 --garden "$plan" token
token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)
up() {
    rm -f "$work/log"
    serve --garden "$plan" --listen "127.0.0.1:${port:-0}"
    await 20 grep -q 'feeds are served at' "$work/log" || cat "$work/log"
    port=$(sed -n 's/.*feeds are served at 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/log" | head -n 1)
    address=http://127.0.0.1:$port/f/$token
}
feed_has() {
    curl -sf -m 10 "$address/jobs.ics" >"$work/jobs.ics" && grep -q -- "$1" "$work/jobs.ics"
}
up
await 20 feed_has 'SUMMARY:Sow'
ok "the feed is served"

# holding SECONDS PLAN NAME: takes the record, puts the plan in force, asks again and again, lets go; what was seen on lines.
cat >"$work/hold.py" <<'P'
import http.client, os, socket, sqlite3, sys, time
record, seconds, fresh, plan, port, token, desk = sys.argv[1:8]
held = sqlite3.connect(record, isolation_level=None, timeout=20)
held.execute("BEGIN IMMEDIATE")
begun = time.monotonic()
os.rename(fresh, plan)
seconds, longest, answers, versions, desks = float(seconds), 0.0, 0, set(), 0
def took(since):
    global longest
    longest = max(longest, time.monotonic() - since)
while time.monotonic() < begun + seconds:
    since = time.monotonic()
    c = http.client.HTTPConnection("127.0.0.1", int(port), timeout=20)
    c.request("GET", f"/f/{token}/jobs.ics")
    answer = c.getresponse()
    assert answer.status == 200 and answer.read().endswith(b"END:VCALENDAR\r\n")
    took(since)
    versions.add(answer.headers["ETag"])
    answers += 1
    since = time.monotonic()
    s = socket.socket(socket.AF_UNIX)
    s.connect(desk)
    s.settimeout(20)
    text = b""
    while part := s.recv(65536):
        text += part
    assert text.endswith(b"}\n")
    took(since)
    time.sleep(0.005)
held.execute("ROLLBACK")
# Nobody waited for as much as a quarter of the time that the record was held.
print("waited" if longest > seconds / 4 else "went on", "many" if answers > 20 else answers, len(versions))
print(f"{answers} answers, the longest took {longest * 1000:.0f} ms while the record was held for {seconds * 1000:.0f}", file=sys.stderr)
P
hold() { # SECONDS NAME
    sed "/^\[bed north\]/a name = $2" "$work/good.ini" >"$work/plot/fresh"
    /usr/bin/python3 "$work/hold.py" "$state/record.sqlite" "$1" "$work/plot/fresh" "$plan" "$port" "$token" "$state/status.sock" \
        >"$work/held" 2>>"$work/said"
}
hold 3 "bed of one"
same "while the record is held" "$(cat "$work/held")" "went on many 1"
await 10 feed_has 'bed of one'
ok "what changed meanwhile is there soon after"
same "nothing to complain of" "$(grep -c -i -e 'cannot' -e 'could not' -e 'does not let go' "$work/log")" 0

# A note waits its turn in the program that writes it, and is in the feed then.
/usr/bin/python3 - "$state/record.sqlite" "$work/taken" <<'P' &
import sqlite3, sys, time
held = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=20)
held.execute("BEGIN IMMEDIATE")
open(sys.argv[2], "w").close()
time.sleep(1.5)
held.execute("ROLLBACK")
P
holder=$!
await 10 test -e "$work/taken"
run 0 --garden "$plan" note probe-1 sown "$(date +%F)"
wait "$holder"
await 10 feed_has 'SUMMARY:✓ '
ok "a note that waited is in the feed"

# Started while the record is held: what was served last is served at once.
rm "$work/taken"
halt
/usr/bin/python3 - "$state/record.sqlite" "$work/taken" "$work/free" <<'P' &
import sqlite3, sys, time
held = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=20)
held.execute("BEGIN IMMEDIATE")
open(sys.argv[2], "w").close()
time.sleep(3)
held.execute("ROLLBACK")
open(sys.argv[3], "w").close()
P
holder=$!
await 10 test -e "$work/taken"
up
feed_has 'SUMMARY:✓ '
ok "a start does not wait for the record"
same "it is still held" "$([ -e "$work/free" ] && echo free)" ""
wait "$holder"
await 10 grep -q ': read: ' "$work/log"
ok "and it is at work soon after"

# Held for long it is told: in the log once, and by status; and when it is over.
rm "$work/taken"
/usr/bin/python3 - "$state/record.sqlite" "$work/enough" "$work/taken" <<'P' &
import os, sqlite3, sys, time
held = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=20)
held.execute("BEGIN IMMEDIATE")
open(sys.argv[3], "w").close()
while not os.path.exists(sys.argv[2]):
    time.sleep(0.05)
held.execute("ROLLBACK")
P
holder=$!
await 10 test -e "$work/taken"
sed "/^\[bed north\]/a name = bed of two" "$work/good.ini" >"$work/plot/fresh" && mv "$work/plot/fresh" "$plan"
await 40 grep -q 'another program does not let go of the record; the feeds stay as they were' "$work/log"
ok "a record that is never free is told"
run 0 --garden "$plan" status
says out '^  record .*another program does not let go of the record'
touch "$work/enough"
wait "$holder"
await 10 feed_has 'bed of two'
ok "it goes on when the record is free"
same "told once" "$(grep -c 'does not let go of the record' "$work/log"),$(grep -c 'can be kept again' "$work/log")" 1,1
cat "$work/said"
halt
same "it ends well" "$ended_with" 0
finish
