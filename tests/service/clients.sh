#!/bin/sh
# Real programs subscribe to the running service: vdirsyncer keeps a copy and khal lists it, calcurse imports, todoman reads the
# tasks. A moved job moves and is nowhere twice. All are Debian's packages.
. tests/service/lib.sh

mkdir -p "$work/tree/contrib" "$work/tree/tests" "$work/home" "$work/state"
cp -r contrib/demo "$work/tree/contrib/"
cp -r tests/data "$work/tree/tests/"
plan=$work/tree/contrib/demo/garden.ini
day=2015-06-27
HOME=$work/home XDG_RUNTIME_DIR=$work/home LC_ALL=C.UTF-8
export HOME XDG_RUNTIME_DIR LC_ALL
jobs() { # the jobs that the command line knows, as JSON
    "$program" --rules "$rules" --garden "$plan" --state "$work/state" --date "$day" --json jobs 2015-04-01 2016-12-31
}

serve --garden "$plan" --state "$work/state" --listen 127.0.0.1:0 --stand-on "$day"
await 20 grep -q 'feeds are served at' "$work/log"
ok "the service runs"
port=$(sed -n 's/.*feeds are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
secret=$("$program" --rules "$rules" --garden "$plan" --state "$work/state" token | sed -n 's|.*/f/\(.*\)/jobs.ics|\1|p')
base=http://127.0.0.1:$port/f/$secret
await 20 curl -sf -o "$work/jobs.ics" "$base/jobs.ics"
ok "the feed is there"
curl -sf -o "$work/tasks.ics" "$base/tasks.ics"
events=$(grep -c '^BEGIN:VEVENT' "$work/jobs.ics")
tasks=$(grep -c '^BEGIN:VTODO' "$work/tasks.ics")
same "there is much to list" "$([ "$tasks" -gt 100 ] && [ "$tasks" -le "$events" ] && echo much)" much

if command -v vdirsyncer >/dev/null && command -v khal >/dev/null; then
    mkdir -p "$work/copy/jobs" "$work/copy/tasks"
    cat >"$work/vdirsyncer" <<E
[general]
status_path = "$work/vdirsyncer.status/"
[pair jobs]
a = "jobs_there"
b = "jobs_here"
collections = null
[storage jobs_there]
type = "http"
url = "$base/jobs.ics"
[storage jobs_here]
type = "filesystem"
path = "$work/copy/jobs"
fileext = ".ics"
[pair tasks]
a = "tasks_there"
b = "tasks_here"
collections = null
[storage tasks_there]
type = "http"
url = "$base/tasks.ics"
[storage tasks_here]
type = "filesystem"
path = "$work/copy/tasks"
fileext = ".ics"
E
    sync() {
        vdirsyncer -c "$work/vdirsyncer" sync >"$work/sync" 2>&1
        same "vdirsyncer's exit status" "$?: $(grep -i -e error -e critical "$work/sync")" "0: "
    }
    yes | vdirsyncer -c "$work/vdirsyncer" discover >"$work/sync" 2>&1
    same "vdirsyncer discovers" $? 0
    sync
    same "it copied all" "$(grep -c '^Copying' "$work/sync")" $((events + tasks))
    sync
    same "a second run copies nothing" "$(grep -c -e '^Copying' -e '^Deleting' "$work/sync")" 0
    same "its copy" "$(find "$work/copy/jobs" -name '*.ics' | wc -l) $(find "$work/copy/tasks" -name '*.ics' | wc -l)" "$events $tasks"

    cat >"$work/khal" <<E
[calendars]
[[plot]]
path = $work/copy/jobs
readonly = True
[sqlite]
path = $work/khal.db
[locale]
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
timeformat = %H:%M
local_timezone = America/Los_Angeles
default_timezone = America/Los_Angeles
E
    # Every job once, on the day that the command line says; a summary is cut at 60 characters.
    khal_lists() {
        khal -c "$work/khal" list 2015-04-01 2016-12-31 --day-format '' --format '{start-date} {title}' >"$work/listed" 2>"$work/khal.err"
        jobs >"$work/jobs.json"
        /usr/bin/python3 - "$work/listed" "$work/jobs.json" <<'P'
import json, sys
listed = [line.rstrip("\n") for line in open(sys.argv[1], encoding="utf-8") if line.strip()]
wanted = []
for job in json.load(open(sys.argv[2], encoding="utf-8")):
    wanted.append((job["on"], ("\u2713 " if job["state"] == "done" else "") + job["summary"]))
for line in listed:
    day, title = line.split(" ", 1)
    fits = [w for w in wanted if w[0] == day and (w[1] == title or (title.endswith("\u2026") and w[1].startswith(title[:-1].rstrip())))]
    if fits:
        wanted.remove(fits[0])
    else:
        print("khal only:", line)
for rest in wanted:
    print("command line only:", *rest)
print(len(listed), "listed")
P
    }
    same "khal lists each job on its day" "$(khal_lists)" "$events listed"

    # A sowing is moved by three days: its jobs move, the others stay, none is there twice.
    tag() {
        curl -sI "$base/jobs.ics" | tr -d '\r' | sed -n 's/^ETag: //p'
    }
    changed() {
        [ "$(tag)" != "$before" ]
    }
    before=$(tag)
    sed -i 's/^\(sow  *= \)2015-06-29/\12015-07-02/' "$work/tree/contrib/demo/sowings/summer.ini"
    await 20 changed
    ok "the feed has changed"
    curl -sf -o "$work/moved.ics" "$base/jobs.ics"
    curl -sf -o "$work/moved.tasks.ics" "$base/tasks.ics"
    sync
    copied=$(grep -c '^Copying' "$work/sync")
    same "some were copied, most were not" "$([ "$copied" -gt 0 ] && [ "$copied" -lt $(((events + tasks) / 4)) ] && echo some)" some
    same "no more than the feed has" "$(find "$work/copy/jobs" -name '*.ics' | wc -l)" "$(grep -c '^BEGIN:VEVENT' "$work/moved.ics")"
    same "no UID twice" "$(cat "$work"/copy/jobs/*.ics | grep '^UID' | sort | uniq -d | wc -l)" 0
    same "khal lists them where they are now" "$(khal_lists)" "$(grep -c '^BEGIN:VEVENT' "$work/moved.ics") listed"
    # Programs for Android take a change only where LAST-MODIFIED is greater, others look at DTSTAMP or SEQUENCE.
    same "stamps rose with what changed, and only there" "$(/usr/bin/python3 - "$work/jobs.ics" "$work/moved.ics" <<'P'
import icalendar, sys
old, new = ({str(e["UID"]): e for e in icalendar.Calendar.from_ical(open(path, "rb").read()).walk("VEVENT")} for path in sys.argv[1:])
wrong, changed = 0, 0
for uid in old.keys() & new.keys():
    a, b = old[uid], new[uid]
    before, after = ((e["LAST-MODIFIED"].dt, e["DTSTAMP"].dt, int(e["SEQUENCE"])) for e in (a, b))
    if a.to_ical() != b.to_ical():
        changed += 1
        wrong += not all(x < y for x, y in zip(before, after))
print(wrong, changed > 0)
P
)" "0 True"
    sync
    same "then all is quiet again" "$(grep -c -e '^Copying' -e '^Deleting' "$work/sync")" 0
else
    skip "vdirsyncer or khal is not here"
fi

if command -v calcurse >/dev/null; then
    for feed in jobs tasks mornings; do
        curl -sf -o "$work/import.ics" "$base/$feed.ics"
        mkdir "$work/calcurse.$feed"
        calcurse -D "$work/calcurse.$feed" -i "$work/import.ics" >"$work/out" 2>&1
        same "calcurse imports $feed" "$? $(grep -o '[0-9]* skipped' "$work/out" | tail -n 1)" "0 0 skipped"
        same "all of $feed" "$(cat "$work/calcurse.$feed/apts" "$work/calcurse.$feed/todo" | wc -l)" \
            "$(grep -c -e '^BEGIN:VEVENT' -e '^BEGIN:VTODO' "$work/import.ics")"
    done
else
    skip "calcurse is not here"
fi

if command -v todoman >/dev/null && [ -d "$work/copy/tasks" ]; then
    cat >"$work/todoman.py" <<E
path = "$work/copy/*"
date_format = "%Y-%m-%d"
time_format = "%H:%M"
default_list = "tasks"
cache_path = "$work/todoman.db"
E
    curl -sf -o "$work/tasks.now" "$base/tasks.ics" # what is far off is left out of a long feed
    for state in open:NEEDS-ACTION done:COMPLETED missed:CANCELLED; do
        todoman --config "$work/todoman.py" --porcelain list --status "${state#*:}" >"$work/todo.json" 2>"$work/todo.err"
        same "todoman's tasks that are ${state%:*}" "$(/usr/bin/python3 - "$work/todo.json" <<'P'
import json, sys
print(len(json.load(open(sys.argv[1]))))
P
)" "$(tr -d '\r' <"$work/tasks.now" | grep -c "^STATUS:${state#*:}\$")"
    done
else
    skip "todoman is not here"
fi
same "no token in the log" "$(grep -c -e "$secret" "$work/log")" 0
halt
same "it ends well" "$ended_with" 0
finish
