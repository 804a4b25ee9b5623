#!/bin/sh
# contrib/demo/run.sh [BUILD [once]]: plays the demo garden back. Notes that its gardeners made are recorded up to each of the
# days stood on; then what there is to do that day is printed, and the feeds of the last day are written. Then the service
# looks after the garden, standing on the last day, until Ctrl-C; with `once` its feeds are fetched and it is stopped.
set -eu
cd "$(dirname "$0")/../.."

B=${1:-build}
FROSTY=${FROSTY:-2015-03-03} HOT=${HOT:-2015-06-26}
state=$B/demo/state feeds=$B/demo/feeds
rm -rf "$B/demo"
mkdir -p "$state"

dewbell() {
    "$B/dewbell" --garden contrib/demo/garden.ini --state "$state" --rules rules "$@"
}

# Lines "SOWING WORD DATE", oldest first; lines that begin with # or ; are remarks.
noted=0000-00-00
note_until() { # DAY
    grep -v -e '^[#;]' -e '^ *$' contrib/demo/notes | sort -s -k 3,3 | while read -r sowing word date; do
        if [ "$(printf '%s\n%s\n' "$noted" "$date" | sort | head -n 1)" = "$noted" ] && [ "$noted" != "$date" ] &&
            [ "$(printf '%s\n%s\n' "$date" "$1" | sort | head -n 1)" = "$date" ]; then
            dewbell --date "$date" note "$sowing" "$word" "$date" >>"$B/demo/notes.log"
        fi
    done
    noted=$1
}

show() { # DAY TITLE
    printf '\n%s\n%s\n\n' "$2" "$(printf '%s' "$2" | sed 's/./-/g')"
    dewbell --date "$1" today
}

note_until "$FROSTY"
show "$FROSTY" "A frosty day in spring ($FROSTY)"
note_until "$HOT"
show "$HOT" "A hot day in June ($HOT)"

printf '\nThe calendar feeds\n------------------\n\n'
dewbell --date "$HOT" feed --out "$feeds"
cat <<END

Open one in your calendar, for instance:
  xdg-open $feeds/jobs.ics
or import it (Thunderbird: Events and Tasks, Import; Google, Apple, Outlook: Import).

Ask on:
  $B/dewbell --garden contrib/demo/garden.ini --state $state --date $HOT jobs
  $B/dewbell --garden contrib/demo/garden.ini --state $state --date $HOT why JOB
END

# The service, standing on the same hot day: its plan asks the recorded-weather server for the forecast in place of reading
# ahead in the record, and sends the morning to a command.
plan=$B/demo/garden
mkdir -p "$plan"
here=$(pwd)
server= service=
stop() {
    for pid in $service $server; do
        if kill "$pid" 2>/dev/null; then wait "$pid" 2>/dev/null || :; fi
    done
    server= service=
}
trap stop EXIT
trap 'echo; stop; echo "Stopped."; exit 0' INT TERM

await() { # SECONDS WORDS...: until the command succeeds
    end=$(($(date +%s) + $1))
    shift
    until "$@" >/dev/null 2>&1; do
        if [ "$(date +%s)" -ge "$end" ]; then
            echo "Waited too long for: $*" >&2
            tail -n 20 "$B/demo/service.log" >&2
            exit 1
        fi
        sleep 0.1
    done
}

rm -f "$B/demo/forecast.port"
python3 contrib/demo/forecast_server.py tests/data/seattle-weather.csv "${HOT}T07:00" America/Los_Angeles "$B/demo/forecast.port" \
    >"$B/demo/forecast.log" 2>&1 &
server=$!
await 10 test -s "$B/demo/forecast.port"
cp -R contrib/demo/beds.ini contrib/demo/days.ini contrib/demo/sowings contrib/demo/sources "$plan/"
{
    sed -e '/^record_ahead/d' -e "s|\.\./\.\./tests/data|$here/tests/data|" contrib/demo/garden.ini
    cat <<END

[forecast]
source  = recorded
sources = sources
url     = http://127.0.0.1:$(cat "$B/demo/forecast.port")/forecast

; Comes at once: it is the hour at which the service begins.
[morning]
at    = 07:00
quiet = a line

[command read-aloud]
run = /usr/bin/tee $here/$B/demo/morning.txt
END
} >"$plan/garden.ini"
cp -R "$state" "$plan/.dewbell"

# At the usual port, or where that is taken at any other.
serve() { # PORT
    "$B/dewbelld" --garden "$plan/garden.ini" --rules rules --stand-on "${HOT}T07:00" --listen "127.0.0.1:$1" \
        >"$B/demo/service.log" 2>&1 &
    service=$!
}
serving() {
    grep -q -e 'feeds are served at' -e 'cannot' "$B/demo/service.log"
}
serve "${PORT:-8737}"
await 20 serving
if grep -q 'Address already in use' "$B/demo/service.log"; then
    serve 0
    await 20 serving
fi
base=http://$(sed -n 's/.*feeds are served at \([0-9.:]*\).*/\1/p' "$B/demo/service.log")
ask() {
    "$B/dewbell" --garden "$plan/garden.ini" --rules rules "$@"
}
has_forecast() { # a feed is there, worked out with a forecast
    ask --json status | grep -q '"source": "' && ask --json status | grep -q '"feed": "tasks"'
}
await 30 has_forecast

printf '\nThe service\n-----------\n\n'
cat <<END
dewbelld looks after the garden and stands on $HOT. It has fetched the forecast from a server on this machine that
plays the record back (log: $B/demo/service.log).

END
ask --base "$base" token

if [ "${2:-}" != once ]; then
    cat <<END

Ask it:
  $B/dewbell --garden $plan/garden.ini status
Change a file in $plan and the feeds follow. Ctrl-C stops it.
END
    wait "$service" || true
    exit 0
fi

printf '\nEach feed, fetched once\n-----------------------\n\n'
ask --base "$base" token | grep -o 'http://[^ ]*\.ics' | while read -r address; do
    name=${address##*/}
    curl -sS --fail -m 10 -D "$B/demo/$name.head" -o "$B/demo/$name" "$address"
    etag=$(sed -n 's/^[Ee][Tt]ag: *\(.*\)\r$/\1/p' "$B/demo/$name.head")
    again=$(curl -sS -m 10 -o /dev/null -w '%{http_code}' -H "If-None-Match: $etag" "$address")
    printf '%-14s %6d bytes, %3d entries; asked again: %s\n' "$name" "$(wc -c <"$B/demo/$name")" \
        "$(grep -c -e '^BEGIN:VEVENT' -e '^BEGIN:VTODO' "$B/demo/$name")" "$again"
    [ "$again" = 304 ]
done

printf '\nIts morning\n-----------\n\n'
await 20 test -s "$B/demo/morning.txt"
head -n 12 "$B/demo/morning.txt"

printf '\nIts status\n----------\n\n'
ask status
kill "$service"
wait "$service"
service=
printf '\nIt was asked to stop, and did.\n'
