#!/bin/sh
# Forecast servers that lie, stall, vanish or attack, one garden each, all looked after by one service: the feeds come as if
# no forecast had been asked for, memory stays bounded, and each failure is one line in the log.
. tests/service/lib.sh

day=2026-04-20
begin "$work/server.log" /usr/bin/python3 tests/service/hostile_server.py $day "$work/port"
await 20 test -s "$work/port"
ok "the hostile server runs"
port=$(cat "$work/port")

bad="refuse stall drip endless bomb loop file place units nulls nan infinite backwards nesting nested shape array cut html
empty values busy broken short absent"

# A port that nobody listens at: asked for and given back.
closed=$(/usr/bin/python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')

number=10
for name in plain good $bad; do
    number=$((number + 1))
    mkdir -p "$work/gardens/$name"
    readme_plan | sed "s/^name .*/name = Garden $name/; s/^key .*/key = 5f0c6b1e-8d6b-4a53-9a1f-0f0f5a7c2b$number/
        s/^latitude .*/latitude = 52.1/; s/^longitude .*/longitude = -1.9/; s/^zone .*/zone = Europe\/London/" \
        >"$work/gardens/$name/garden.ini"
    [ $name = plain ] && continue
    at=$port
    [ $name = refuse ] && at=$closed
    cat >>"$work/gardens/$name/garden.ini" <<PLAN

[forecast]
source  = hostile
sources = hostile.ini
PLAN
    cat >"$work/gardens/$name/hostile.ini" <<SOURCE
[source hostile]
title     = Hostile
url       = http://127.0.0.1:$at/$name
shape     = columns
time      = /days/time
low       = /days/low
low_unit  = °C
high      = /days/high
high_unit = °C
rain      = /days/rain
rain_unit = mm
latitude  = /latitude
longitude = /longitude
SOURCE
done

peak() {
    awk '/^VmHWM/ { print $2 }' "/proc/$daemon/status"
}
lines() { # NAME: lines of the log that speak of that garden's forecast
    grep -c "Garden $1: .*forecast" "$work/log"
}
each_told() { # every bad one has failed once, and the good one is kept
    for name in $bad; do
        [ "$(lines "$name")" -ge 1 ] || return 1
    done
    [ "$(/usr/bin/python3 tests/service/hostile_feeds.py "$work/gardens" good)" = "other forecast" ]
}
all_read() {
    [ "$(grep -c 'Garden .*: read: ' "$work/log")" -ge "$(echo plain good $bad | wc -w)" ]
}

serve --gardens "$work/gardens" --listen 127.0.0.1:0 --stand-on $day
await 30 all_read
ok "all gardens are read"
before=$(peak)
await 150 each_told
ok "each server was asked, and the good forecast is in force"
after=$(peak)

for name in $bad; do
    same "$name: its feeds are those of a garden without a forecast" \
        "$(/usr/bin/python3 tests/service/hostile_feeds.py "$work/gardens" "$name")" "same climate"
    same "$name: lines in the log" "$(lines "$name")" 1
    run 0 --garden "$work/gardens/$name/garden.ini" --date $day weather
    says out "^Forecast: none from Hostile yet"
done
same "the good forecast: its feeds" "$(/usr/bin/python3 tests/service/hostile_feeds.py "$work/gardens" good)" "other forecast"
same "the good forecast: lines in the log" "$(lines good)" 0
run 0 --garden "$work/gardens/good/garden.ini" --date $day weather
says out "^Forecast: Hostile, made .* min ago" "31.5 °C .*  forecast"

# A body of 2 MiB, its tree and the arena it is read in come and go: 64 MiB above what the gardens take is the bound.
grown=$((after - before))
echo "peak memory: $before KiB when the gardens were read, $after KiB after all answers"
same "peak memory grew by less than 64 MiB" "$([ $grown -lt 65536 ] && echo yes)" yes

# The last good answer is in force after a restart, with nobody there to ask.
halt
same "the service ends well" "$ended_with" 0
stop_all
serve --gardens "$work/gardens" --listen 127.0.0.1:0 --stand-on $day
await 30 all_read
ok "all gardens are read again"
same "the good forecast outlives a restart without a network" \
    "$(/usr/bin/python3 tests/service/hostile_feeds.py "$work/gardens" good)" "other forecast"
run 0 --garden "$work/gardens/good/garden.ini" --date $day today
says out "^Forecast: Hostile, made"
halt
finish
