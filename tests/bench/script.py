"""The same job as a script of some 100 lines does it: configparser, csv, loops from day to day, the icalendar library.

script.py FOLDER RULES DAY : reads the plan that the benchmark wrote, works out for each sowing when it is up, rooted and
cropping by walking through the days, and writes the events whose texts and dates stand in FOLDER/events.json. Prints the
seconds that took; the interpreter's start and the reading of events.json are left out, in the script's favour.
"""
import configparser
import csv
import datetime
import glob
import json
import math
import re
import sys
import time

import icalendar

FOLDER, RULES, TODAY = sys.argv[1], sys.argv[2], datetime.date.fromisoformat(sys.argv[3])
COVERS = {"open": (0.0, 1.0, 0.0), "fleece": (1.0, 0.9, 1.0), "frame": (4.0, 1.3, 2.0)}
INDOORS = 18.0


def load_ini(path):
    ini = configparser.ConfigParser(interpolation=None, delimiters=("=",), comment_prefixes=(";", "#"))
    ini.read(path, encoding="utf-8")
    return ini


def first_number(text):
    return float(re.search(r"-?[0-9.]+", text).group())


def middle_days(text):
    """Days of "70 days .. 150 days"; weeks count seven."""
    figures = [float(n) * (7 if unit == "weeks" else 1) for n, unit in re.findall(r"([0-9.]+) (days|weeks)", text)]
    return sum(figures) / len(figures) if figures else None


def load_crops():
    crops = {}
    for path in sorted(glob.glob(RULES + "/crops/*.ini")):
        ini = load_ini(path)
        for name in ini.sections():
            facts = ini[name]
            points = [(float(t), 0.0 if v.startswith("none") else 1 / float(v.split()[0]))
                      for t, v in re.findall(r"(-?[0-9.]+) °C: (none|[0-9.]+ days)", facts.get("emergence", ""))]
            warm = facts.get("season", "cool").startswith("warm")
            crops[name] = {
                "points": points, "base": 10.0 if warm else 5.0, "reference": 20.0 if warm else 15.0,
                "plug": middle_days(facts["plug_time"]) if "plug_time" in facts else None,
                "crop": middle_days(facts["crop_time"]) if "crop_time" in facts else None,
            }
    return crops


def rate(points, t):
    if not points or t <= points[0][0] or t >= points[-1][0] + 5:
        return 0.0
    for (t0, r0), (t1, r1) in zip(points, points[1:]):
        if t <= t1:
            return r0 + (r1 - r0) * (t - t0) / (t1 - t0)
    return points[-1][1]


def radiation(day_of_year, latitude):
    phi, turn = math.radians(latitude), 2 * math.pi * day_of_year / 365
    distance, tilt = 1 + 0.033 * math.cos(turn), 0.409 * math.sin(turn - 1.39)
    sunset = math.acos(-math.tan(phi) * math.tan(tilt))
    return 37.586 * distance * (sunset * math.sin(phi) * math.sin(tilt) + math.cos(phi) * math.cos(tilt) * math.sin(sunset))


def load_weather(latitude):
    days = []
    with open(FOLDER + "/weather.csv", encoding="ascii") as file:
        for row in csv.DictReader(file):
            days.append((datetime.date.fromisoformat(row["date"]), float(row["temp_min"]), float(row["temp_max"])))
    soil, now = [], (days[0][1] + days[0][2]) / 2
    for date, low, high in days:
        sun = 0.16 * math.sqrt(max(0.0, high - low)) * radiation(date.timetuple().tm_yday, latitude)
        now += 0.87 * ((low + high) / 2 + 0.1 * (sun - 5) - now)
        soil.append(now)
    return days, soil


def life(sowing, crop, cover, planted_cover, days, soil, index):
    """When it is up, rooted and cropping: one walk through the days for each."""
    start = index[datetime.date.fromisoformat(sowing.get("sown") or sowing["sow"])]
    up = rooted = cropping = None
    total = 0.0
    for i in range(start + 1, min(start + 121, len(days))):
        if cover == "indoors":
            total += rate(crop["points"], INDOORS)
        else:
            gain, swing, _ = COVERS[cover]
            half = 0.85 * swing * (days[i][2] - days[i][1]) / 2 / math.sqrt(2)
            total += (rate(crop["points"], soil[i] + gain - half) + rate(crop["points"], soil[i] + gain + half)) / 2
        if total >= 1:
            up = i
            break
    total, wanted = 0.0, (crop["plug"] or 0) * (crop["reference"] - crop["base"])
    for i in range(start + 1, len(days)):
        total += degree_days(days[i], cover, crop["base"])
        if total >= wanted:
            rooted = i
            break
    total, wanted = 0.0, (crop["crop"] or 0) * (crop["reference"] - crop["base"])
    for i in range(start + 1, len(days)):
        total += degree_days(days[i], cover if rooted and i < rooted else planted_cover, crop["base"])
        if total >= wanted:
            cropping = i
            break
    return up, rooted, cropping


def degree_days(day, cover, base):
    if cover == "indoors":
        return max(0.0, INDOORS - base)
    gain = COVERS[cover][0]
    return max(0.0, (day[1] + day[2]) / 2 + gain - base)


def build(events):
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//script//EN")
    calendar.add("version", "2.0")
    for parts in events:
        event = icalendar.Event()
        for name, value in parts:
            if re.fullmatch(r"\d{8}", str(value)):
                event.add(name, datetime.datetime.strptime(value, "%Y%m%d").date())
            elif re.fullmatch(r"\d{8}T\d{6}Z", str(value)):
                event.add(name, datetime.datetime.strptime(value, "%Y%m%dT%H%M%SZ").replace(tzinfo=datetime.timezone.utc))
            else:
                event.add(name, value)
        calendar.add_component(event)
    return calendar.to_ical()


def main():
    with open(FOLDER + "/events.json", encoding="utf-8") as file:
        events = json.load(file)
    begun = time.perf_counter()
    garden = load_ini([FOLDER + "/garden.ini"] + sorted(glob.glob(FOLDER + "/sowings/*.ini")))
    crops = load_crops()
    days, soil = load_weather(float(garden["garden"]["latitude"]))
    index = {date: i for i, (date, _, _) in enumerate(days)}
    beds = {name.split()[1]: garden[name]["cover"] for name in garden.sections() if name.startswith("bed ")}
    lives = [life(s, crops[s["crop"]], beds[s["bed"]], beds[s.get("into") or s["bed"]], days, soil, index)
             for s in (garden[name] for name in garden.sections() if name.startswith("sowing "))]
    with open(FOLDER + "/script.ics", "wb") as out:
        out.write(build(events))
    took = time.perf_counter() - begun
    print(f"{took:.6f}")
    print(sum(1 for up, _, _ in lives if up), "of", len(lives), "up", file=sys.stderr)


main()
