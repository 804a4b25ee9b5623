#!/bin/sh
# dewbell weather: the series with its sources, and descriptions tried on files.
. tests/cli/lib.sh

readme_plan >"$work/garden.ini"
plan=$work/garden.ini
files=tests/data/forecasts

run 0 --garden "$plan" --date 2026-06-01 weather
says out "^The weather at " "^Mon 1 June .* climate$"
same "days before, today and after" "$(grep -c climate "$work/out")" 22

# By a shipped description, named; without one it is asked for.
run 64 --garden "$plan" --date 2026-06-01 weather --try $files/columns.json
says err "by which description" "source NAME"
run 0 --garden "$plan" --date 2026-06-01 weather --try $files/columns.json --source open-meteo
says out "^Open-Meteo, made .*: 7 days" "^Mon 1 June  *9.1 °C  *18.2 °C  *0 mm  *-$" "^Fri 5 June  *-  *-  *13 mm" \
    "^Weather data by Open-Meteo.com$"
run 0 --garden "$plan" --date 2026-06-01 weather --try $files/records.json --source met-norway
says out "^MET Norway, .*: 5 days" "^Tue 2 June  *9 °C  *21 °C  *1 mm"
run 2 --garden "$plan" --date 2026-06-01 weather --try $files/series.json --source us-weather-service
says err "series.json: it is for a place 6950 km from the garden"
run 2 --garden "$plan" --date 2026-06-01 weather --try $files/columns.json --source met-norway
says err "columns.json: /geometry/coordinates/1 finds nothing"
run 2 --garden "$plan" --date 2026-06-01 weather --try $files/columns.json --source open-meteor
says err "there is no forecast source \"open-meteor\"; did you mean \"open-meteo\"?"
run 2 --garden "$plan" weather --try "$work/nowhere.json" --source open-meteo
says err "nowhere.json"
run 3 --garden "$plan" weather --try http://127.0.0.1:1/forecast --source open-meteo
says err "^dewbell: http://127.0.0.1:1/forecast: "

# For scripts: unknown is null, and numbers are as the answer has them.
run 0 --garden "$plan" --date 2026-06-01 --json weather --try $files/columns.json --source open-meteo
same "the answer as JSON" "$(/usr/bin/python3 -c '
import json, sys
d = json.load(open(sys.argv[1]))
print(d["forecast"]["source"], len(d["days"]), d["days"][0]["high"]["value"], d["days"][4]["low"], d["days"][4]["rain"]["value"])
' "$work/out")" "Open-Meteo 7 18.2 None 12.7"
run 0 --garden "$plan" --date 2026-06-01 --json weather
same "the series as JSON" "$(/usr/bin/python3 -c '
import json, sys
d = json.load(open(sys.argv[1]))
print(d["forecast"], len(d["days"]), d["days"][7]["date"], d["days"][7]["low"]["from"])
' "$work/out")" "None 22 2026-06-01 climate"

# The plan's own description, mistakes in it told with their place.
cat >>"$plan" <<'PLAN'

[forecast]
source  = mine
sources = mine.ini
PLAN
cat >"$work/mine.ini" <<'SOURCE'
[source mine]
title = Mine
url = https://weather.example/
shape = csv
time = date
low = t_min
low_unit = °F
high = t_max
high_unit = °F
rain = precip
rain_unit = inches
missing = -9999
SOURCE
run 0 --garden "$plan" --date 2026-06-01 weather --try $files/daily.csv
says out "^Mon 1 June  *10 °C  *20 °C  *2.5 mm" "^Wed 3 June  *-  *-  *0 mm"
run 0 --garden "$plan" --date 2026-06-01 weather
says out "^Forecast: none from Mine yet"
sed -i 's/^rain_unit.*/rain_unit = °C/' "$work/mine.ini"
run 2 --garden "$plan" check
says err 'mine.ini:11:13: "°C" is no unit of a length'
finish
