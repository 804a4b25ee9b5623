#!/bin/sh
# contrib/demo/run.sh [BUILD]: plays the demo garden back. Notes that its gardeners made are recorded up to each of the days
# stood on; then what there is to do that day is printed, and the feeds of the last day are written.
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
or import it (Thunderbird: Events and Tasks, Import; Google, Apple, Outlook: Import). To subscribe, serve the folder
with any web server and give your calendar the address of jobs.ics.

Ask on:
  $B/dewbell --garden contrib/demo/garden.ini --state $state --date $HOT jobs
  $B/dewbell --garden contrib/demo/garden.ini --state $state --date $HOT why JOB
END
