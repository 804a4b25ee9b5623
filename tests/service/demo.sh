#!/bin/sh
# The demo as its reader runs it: once through, and waiting until Ctrl-C.
. tests/service/lib.sh

# In a tree of its own, so that a demo that runs beside this one is left alone.
mkdir -p "$work/tree/contrib" "$work/tree/tests" "$work/tree/build"
cp -R contrib/demo "$work/tree/contrib/"
cp -R rules "$work/tree/"
cp -R tests/data "$work/tree/tests/"
ln -s "$(pwd)/$B/dewbell" "$(pwd)/$B/dewbelld" "$work/tree/build/"

PORT=0 sh "$work/tree/contrib/demo/run.sh" build once >"$work/out" 2>"$work/err"
same "make demo-once" "$? $(cat "$work/err")" "0 "
says out "A frosty day in spring" "A hot day in June" "^jobs.ics  *[0-9]* bytes,  *[0-9]* entries; asked again: 304" \
    "^mornings.ics .*304" "^tasks.ics .*304" "^Tarn Hollow: Friday 26 June 2015" "forecast  *Recorded days, played back" \
    "morning  *command read-aloud, Friday 26 June 2015: sent" "It was asked to stop, and did"

# Ctrl-C goes to the whole group, so the demo gets one of its own.
PORT=0 setsid sh "$work/tree/contrib/demo/run.sh" build >"$work/out" 2>"$work/err" &
pid=$!
started="$started $pid"
ready() {
    grep -q "Ctrl-C stops it" "$work/out"
}
await 60 ready
ok "the demo waits"
address=$(grep -o 'http://[^ ]*jobs\.ics' "$work/out" | head -n 1)
curl -sf -m 10 "$address" >"$work/jobs.ics"
ok "the address it prints answers"
same "its reader" "$(/usr/bin/python3 -c 'import sys, icalendar
calendar = icalendar.Calendar.from_ical(open(sys.argv[1], "rb").read())
print(len(calendar.walk("VEVENT")) > 50)' "$work/jobs.ics")" True
begun=$(date +%s)
kill -TERM "$pid"
wait "$pid"
same "it stops cleanly" $? 0
[ $(($(date +%s) - begun)) -le 5 ]
ok "soon"
says out "^Stopped"
gone() {
    ! curl -s -m 2 "$address" >/dev/null
}
gone
ok "and leaves no server behind"
finish
