#!/bin/sh
# The service as it runs: starts, serves, sees what changes, keeps what was good, ends at once.
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini state=$work/plot/.dewbell
# A sowing of our own, so that its job is known: the note below ends it.
cat >>"$plan" <<END

[sowing probe-1]
crop = carrot
bed  = north
sow  = $(date -d '+10 days' +%F)
END
cp "$plan" "$work/good.ini"
run 0 --garden "$plan" check

up() { # starts it and finds its address
    rm -f "$work/log" # the shell empties it in its own time: the address of before must not be found in it
    serve --garden "$plan" --listen 127.0.0.1:0 "$@"
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
feed_lacks() {
    fetch jobs.ics && ! grep -q -- "$1" "$work/jobs.ics"
}

run 0 --garden "$plan" token
token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)
[ -n "$token" ]
ok "there is a token"

up
await 20 feed_has 'SUMMARY:Sow'
ok "jobs are served"
for feed in mornings tasks; do
    fetch "$feed.ics"
    ok "$feed.ics is served"
    [ "$(head -c 15 "$work/$feed.ics")" = BEGIN:VCALENDAR ]
    ok "$feed.ics is a calendar"
done

# A note that another process writes appears by itself.
cp "$work/jobs.ics" "$work/before.ics"
run 0 --garden "$plan" note probe-1 sown "$(date +%F)"
await 20 feed_has 'SUMMARY:✓ .*'
ok "the note is in the feed"
cmp -s "$work/before.ics" "$work/jobs.ics"
same "the feed changed" $? 1

# A mistyped plan leaves the old feed, with a marked event.
sed 's/^crop *= carrot$/crop = carrrot/' "$work/good.ini" >"$plan.new" && mv "$plan.new" "$plan"
await 20 feed_has 'SUMMARY:Mistake in your plan: garden.ini line'
ok "the mistake is marked in the feed"
grep -q 'SUMMARY:✓' "$work/jobs.ics"
ok "the jobs are still there"
grep -q 'garden.ini:[0-9]*:[0-9]*: .*carrrot' "$work/log"
ok "the log names the place"
uid=$(tr -d '\r' <"$work/jobs.ics" | grep -B8 'SUMMARY:Mistake' | sed -n 's/^UID://p')
halt
same "ends when asked to" "$ended_with" 0
up
fetch jobs.ics
ok "it serves at once after a restart with the broken plan"
await 20 grep -q 'last good plan stays in force' "$work/log"
ok "it goes by the last good plan"
await 20 feed_has 'SUMMARY:Mistake in your plan'
same "the event is the same one" "$(tr -d '\r' <"$work/jobs.ics" | grep -B8 'SUMMARY:Mistake' | sed -n 's/^UID://p')" "$uid"
# It evaluates by the good plan, too: another note comes through.
run 2 --garden "$plan" check
cp "$work/good.ini" "$work/plot/noting.ini"
run 0 --garden "$work/plot/noting.ini" --state "$state" note probe-1 up "$(date +%F)"
cp "$work/jobs.ics" "$work/before.ics"
changed() {
    fetch jobs.ics && ! cmp -s "$work/before.ics" "$work/jobs.ics"
}
await 20 changed
ok "a note counts while the plan is broken"
rm "$work/plot/noting.ini"
# An editor that writes into the file itself, half first.
head -c 200 "$work/good.ini" >"$plan"
cat "$work/good.ini" >"$plan"
await 20 feed_lacks 'Mistake in your plan'
ok "mended, the mark is gone"
grep -q 'mended: ' "$work/log"
ok "and the log says so"

# SIGHUP reads again, SIGTERM and SIGINT end it within a second.
kill -HUP "$daemon"
await 10 grep -q 'reading all plans again' "$work/log"
ok "SIGHUP"
for signal in TERM INT; do
    begun=$(date +%s%N)
    halt $signal
    took=$((($(date +%s%N) - begun) / 1000000))
    same "SIG$signal: exit status" "$ended_with" 0
    [ "$took" -lt 1000 ]
    ok "SIG$signal: gone within a second ($took ms)"
    up
    await 20 fetch jobs.ics
done

halt

# Many gardens from a folder: each on its own, come and gone without a restart.
mkdir -p "$work/many/alder" "$work/many/beech"
sed 's/^name *= Lark Bank/name = Alder Yard/' "$work/good.ini" >"$work/many/alder/garden.ini"
echo 'not a plan' >"$work/many/beech/garden.ini"
rm -f "$work/log"
serve --gardens "$work/many" --state "$work/many-state" --listen 127.0.0.1:0
await 20 grep -q 'Alder Yard: read' "$work/log"
ok "a garden beside a broken one is looked after"
await 20 grep -q 'beech: .*mistake' "$work/log"
ok "the broken one is told"
mkdir "$work/many/cedar"
sed 's/^name *= Lark Bank/name = Cedar Yard/' "$work/good.ini" >"$work/many/cedar/garden.ini"
await 20 grep -q 'Cedar Yard: read' "$work/log"
ok "a new folder is seen"
rm -r "$work/many/alder"
await 20 grep -q 'Alder Yard: its folder is gone' "$work/log"
ok "one that goes is let go"
halt
same "exit status" "$ended_with" 0

# What cannot be is said.
"$daemon_program" --rules "$rules" --gardens "$work/nowhere" --listen 127.0.0.1:0 >"$work/out" 2>&1 </dev/null
same "no such folder" $? 3
says out "nowhere: No such file"
"$daemon_program" --garden a --gardens b >"$work/out" 2>&1 </dev/null
same "two kinds of gardens" $? 64
# No token and no password in any log of all this.
grep -q -e "$token" "$work/log"
same "the token is in no log" $? 1
finish
