#!/bin/sh
# What a gardener's machine does to the service: rules with a mistake, a record of the weather that is deleted, a disk that is
# full, files that may not grow. Each time the last good feed is served on, byte for byte where nothing can be kept; one line in the
# log says what is wrong, and one that it is over, which the service finds out by itself.
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini
cat >>"$plan" <<END

[sowing probe-1]
crop = radish
bed  = north
sow  = $(date -d '+10 days' +%F)
END
mkdir "$work/plot/mine"
sed 's/^\[garden\]$/&\nrules = mine/' "$plan" >"$work/good.ini"
printf '\n[weather]\nobserved = weather.csv\n' >>"$work/good.ini"
{
    echo "date,low [°C],high [°C],rain [mm]"
    n=30
    while [ $n -gt 0 ]; do
        echo "$(date -d "-$n days" +%F),4,12,1.5"
        n=$((n - 1))
    done
} >"$work/weather.csv"
cp "$work/weather.csv" "$work/plot/"
cp "$work/good.ini" "$plan"
run 0 --garden "$plan" check
run 0 --garden "$plan" token
token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)

up() { # with its log behind a pipe: its own files may come to a limit
    rm -f "$work/log" "$work/pipe"
    mkfifo "$work/pipe"
    cat "$work/pipe" >"$work/log" &
    started="$started $!"
    begin "$work/pipe" "$daemon_program" --rules "$rules" --garden "$plan" --state "$state" --listen 127.0.0.1:0 \
        --metrics 127.0.0.1:0
    daemon=$pid
    await 20 grep -q 'metrics are served at' "$work/log" || cat "$work/log"
    port=$(sed -n 's/.*feeds are served at 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/log" | head -n 1)
    metrics=$(sed -n 's/.*metrics are served at 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/log" | head -n 1)
    address=http://127.0.0.1:$port/f/$token
}
fetch() { # the jobs into $work/jobs.ics
    curl -sf -m 10 "$address/jobs.ics" >"$work/jobs.part" && mv "$work/jobs.part" "$work/jobs.ics"
}
feed_has() {
    fetch && grep -q -- "$1" "$work/jobs.ics"
}
feed_lacks() {
    fetch && ! grep -q -- "$1" "$work/jobs.ics"
}
lines() { # PATTERN: lines of the log
    grep -c -- "$1" "$work/log"
}
bed_called() { # NAME, as an editor saves it
    sed "/^\[bed north\]/a name = $1" "$work/good.ini" >"$plan.new" && mv "$plan.new" "$plan"
}
stuck() { # 0 or 1: what the metric says
    curl -sf -m 10 "http://127.0.0.1:$metrics/metrics" | grep -q "^dewbell_feeds_stuck{.*} $1\$"
}

state=$work/plot/.dewbell
up
await 20 feed_has 'SUMMARY:Sow'
ok "the feed is served"

# Rules with a mistake, weather that is gone: the jobs stay, with a marked event; mended, it goes.
printf '[odd]\nkind = Look\njob = Look\nduring = sown .. sown + 3 bananas\n' >"$work/plot/mine/odd.ini"
await 20 feed_has 'SUMMARY:Mistake in your plan: odd.ini line'
ok "a mistake in the rules is marked"
grep -q 'SUMMARY:Sow' "$work/jobs.ics"
ok "the jobs stay"
run 0 --garden "$plan" status
says out 'mistake.*; the last good plan stays in force' 'odd.ini:'
rm "$work/plot/mine/odd.ini"
await 20 feed_lacks 'Mistake in your plan'
ok "mended"
rm "$work/plot/weather.csv"
await 20 feed_has 'SUMMARY:Mistake in your plan: garden.ini line'
ok "weather that is gone is marked"
grep -q 'SUMMARY:Sow' "$work/jobs.ics"
ok "the jobs stay without it"
run 0 --garden "$plan" status
says out 'weather.csv'
cp "$work/weather.csv" "$work/plot/"
await 20 feed_lacks 'Mistake in your plan'
ok "it is back"
halt
same "it ended well" "$ended_with" 0

last_evaluation() {
    "$program" --garden "$plan" --state "$state" --json status |
        /usr/bin/python3 -c 'import json, sys; print(json.load(sys.stdin)["gardens"][0]["evaluated"])'
}
tried() { # again, and once more
    [ "$(last_evaluation)" -gt $((evaluated + 6)) ]
}
# through WHAT FILL NAME EMPTY: nothing more can be written, for a while of several tries.
through() {
    fetch
    cp "$work/jobs.ics" "$work/before.ics"
    errors=$(lines 'cannot\|could not\|no room')
    $2
    bed_called "bed of $3"
    await 20 stuck 1
    ok "$1: the metrics say so"
    run 0 --garden "$plan" --state "$state" status
    says out '^  record .*no room left on the disk, or the file may not grow'
    evaluated=$(last_evaluation)
    await 30 tried
    ok "$1: it is tried again"
    fetch
    cmp -s "$work/before.ics" "$work/jobs.ics"
    ok "$1: the feed is as it was"
    same "$1: lines in the log" "$(($(lines 'cannot\|could not\|no room') - errors))" 1
    same "$1: and what it says" "$(lines 'no room left on the disk, or the file may not grow; the feeds stay as they were, and it is tried again')" 1
    $4
    await 70 feed_has "bed of $3"
    ok "$1: it finds out by itself that it is over"
    same "$1: and says so" "$(lines 'the feeds can be kept again')" 1
    await 10 stuck 0
    ok "$1: the metrics, too"
    await 10 grep -q -r "bed of $3" "$state/good/"
    ok "$1: the good files are put by after all"
}

# Files that may not grow: a limit of the process, set and lifted while it runs.
up
await 20 feed_has 'SUMMARY:Sow'
no_growth() {
    prlimit --pid "$daemon" --fsize=1:unlimited
}
growth() {
    prlimit --pid "$daemon" --fsize=unlimited:unlimited
}
through "files that may not grow" no_growth limits growth
halt
same "it ended well after that" "$ended_with" 0

# A disk that is full: a small one of our own, where we may mount one.
mkdir "$work/disk"
if [ "$(id -u)" = 0 ] && mount -t tmpfs -o size=3m tmpfs "$work/disk" 2>/dev/null; then
    trap 'stop_all; umount -l "$work/disk"; rm -rf "$work"' EXIT
    state=$work/disk/state
    mkdir "$state"
    cp "$work/plot/.dewbell/record.sqlite" "$state/"
    cp "$work/good.ini" "$plan"
    up
    await 20 feed_has 'SUMMARY:Sow'
    ok "it runs on a small disk"
    fill() {
        cat /dev/zero >"$work/disk/filler" 2>/dev/null
        # what the record can still write within its files
        [ "$(df --output=avail "$work/disk" | tail -n 1)" -eq 0 ]
        ok "the disk is full"
    }
    empty() {
        rm "$work/disk/filler"
    }
    through "a full disk" fill disk empty
    # Killed on a full disk and started there: what was served last is served at once.
    fill
    fetch
    cp "$work/jobs.ics" "$work/before.ics"
    halt KILL
    up
    fetch
    cmp -s "$work/before.ics" "$work/jobs.ics"
    ok "started on a full disk it serves what it served"
    empty
    bed_called "bed of the end"
    await 70 feed_has "bed of the end"
    ok "and goes on when there is room"
    halt
    same "it ended well on a small disk" "$ended_with" 0
else
    skip "no disk can be mounted here"
fi
finish
