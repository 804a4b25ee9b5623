"""Emergence over four recorded years, worked out apart from the engine, against what the engine says.

emergence.py write FOLDER          writes a garden of every crop with an emergence clock, sown on many days
emergence.py compare FOLDER TABLE  compares the engine's table (emergence_table.c) with the integration below

The integration is written from the published forms, not from the engine's source: extraterrestrial radiation of FAO
Irrigation and Drainage Paper 56 (eqs 21, 23-25), solar radiation from temperatures (eq 50), the lagged seed-zone
temperature described in docs/models.md, the rate table of each crop's file, and a plain sum from day to day.
"""
import configparser
import csv
import datetime
import glob
import math
import re
import sys

LATITUDE = 47.45
COVERS = {"open": (0.0, 1.0), "fleece": (1.0, 0.9), "board": (-1.75, 0.35), "frame": (4.0, 1.3)}  # K on the mean, factor on the swing
VENTED = 20.0  # a frame is opened: what it adds does not carry the mean above this
ALLOWED = 1  # day


def crops():
    found = {}
    for name in sorted(glob.glob("rules/crops/*.ini")):
        ini = configparser.ConfigParser(interpolation=None, delimiters=("=",), comment_prefixes=(";", "#"))
        with open(name, encoding="utf-8") as file:
            ini.read_file(file)
        for section in ini.sections():
            clock = clock_of(ini[section])
            if clock:
                ways = [w.strip() for w in re.sub(r"\[.*?\]", "", ini[section]["raise"]).split(",")]
                depth = [float(n) * (10 if unit == "cm" else 1)
                         for n, unit in re.findall(r"([0-9.]+) (mm|cm)", ini[section].get("depth", ""))]
                found[section] = {
                    "rate": clock, "way": [w for w in ways if w != "sets"][0],
                    # Sown on the surface, it still lies in the first millimetres.
                    "depth": steps(sum(depth) / len(depth)) if depth and "surface" not in ini[section] else 5.0,
                }
    return found


def steps(depth):
    """Depths count in steps of 5 mm (docs/models.md)."""
    return max(5.0, 5.0 * math.floor(depth / 5 + 0.5))


def figure(section, key):
    return float(re.match(r"\s*(-?[0-9.]+)", section[key]).group(1)) if key in section else None


def clock_of(section):
    """Rate of emergence, 1/day, at a temperature; None for a crop that has no clock (sets)."""
    base, top = figure(section, "emergence_base"), figure(section, "emergence_top")
    if "emergence_sum" in section:
        total, best = figure(section, "emergence_sum"), figure(section, "emergence_best")
        points = [(base, 0.0), (best, (best - base) / total)]
    elif "emergence" in section:
        text = re.sub(r"\[[^]]*\]\s*$", "", section["emergence"])
        points = []
        for part in re.split(r",\s*", text.strip()):
            t, value = re.match(r"(-?[0-9.]+) °C: (.*)", part).groups()
            points.append((float(t), 0.0 if value.startswith("none") else 1 / float(value.split()[0])))
    else:
        return None
    first, last = points[0], points[-1]
    top = max(top if top is not None else last[0], last[0])

    def rate(t):
        if t <= first[0]:
            if first[1] == 0 or t == first[0]:
                return first[1]
            return max(0.0, first[1] * (t - base) / (first[0] - base)) if base is not None and base < first[0] else 0.0
        if t >= last[0]:
            return last[1] * min(1.0, max(0.0, (top + 5 - t) / 5))
        for (t0, r0), (t1, r1) in zip(points, points[1:]):
            if t <= t1:
                return r0 + (r1 - r0) * (t - t0) / (t1 - t0)
        raise AssertionError

    return rate


def extraterrestrial(day_of_year):
    phi = math.radians(LATITUDE)
    turn = 2 * math.pi * day_of_year / 365
    distance, declination = 1 + 0.033 * math.cos(turn), 0.409 * math.sin(turn - 1.39)
    sunset = math.acos(-math.tan(phi) * math.tan(declination))
    return (24 * 60 / math.pi * 0.0820 * distance * (sunset * math.sin(phi) * math.sin(declination)
                                                   + math.cos(phi) * math.cos(declination) * math.sin(sunset)))


def weather():
    days = []
    with open("tests/data/seattle-weather.csv", encoding="ascii") as file:
        for row in csv.DictReader(file):
            days.append((datetime.date.fromisoformat(row["date"]), float(row["temp_min"]), float(row["temp_max"])))
    return days


def soil(days, depth):
    """Mean and half-range of the seed zone for each day; depth in mm."""
    z = depth / 10
    alpha = 1 - math.exp(-1 / (0.3 + 0.09 * z))
    drive = [(low + high) / 2 + 0.10 * (0.16 * math.sqrt(high - low) * extraterrestrial(date.timetuple().tm_yday) - 5)
             for date, low, high in days]
    mean, now = [], sum(drive[:5]) / 5
    for value in drive:
        now += alpha * (value - now)
        mean.append(now)
    return mean, [0.7 * 1.5 * math.exp(-z / 12) * (high - low) / 2 for _, low, high in days]


def hours(rate, mean, half):
    """Mean rate over a sine of 24 hours."""
    return sum(rate(mean + half * math.sin(2 * math.pi * (h + 0.5) / 24)) for h in range(24)) / 24


def two(rate, mean, half):
    return (rate(mean - half / math.sqrt(2)) + rate(mean + half / math.sqrt(2))) / 2


def emerge(daily, start):
    """Days from sowing on which the clock, begun the day after, is full; None if the record ends before."""
    total = 0.0
    for i in range(start + 1, len(daily)):
        total += daily[i]
        if total >= 1 - 1e-12:
            return i - start
    return None


def sown_on(days):
    return [i for i, (date, _, _) in enumerate(days) if date.day in (1, 11, 21) and 2 <= date.month <= 9]


def write(folder):
    days = weather()
    with open(folder + "/garden.ini", "w", encoding="utf-8") as out:
        out.write("[garden]\nname = Emergence\nkey = 0a6f1d1e-7f3c-4e43-9a3f-6f4b6a3f5d10\nlatitude = 47.45\n"
                  "longitude = -122.3\nzone = America/Los_Angeles\ninclude = sowings\n\n"
                  "[weather]\nobserved = weather.csv\npast_years = weather.csv\n"
                  "columns = date=date, low=temp_min [°C], high=temp_max [°C], rain=precipitation [mm], wind=wind [m/s]\n\n")
        out.write("[bed plot]\ncover = open\n\n")
        for cover in COVERS:
            out.write(f"[bed {cover}]\ncover = {cover}\n\n")
    number = 0
    for crop, facts in crops().items():
        into = "into = plot\n" if facts["way"] in ("pot", "plugs") else ""
        with open(f"{folder}/sowings/{crop}.ini", "w", encoding="utf-8") as out:
            for cover in COVERS:
                for i in sown_on(days):
                    out.write(f"[sowing {crop}-{cover}-{i}]\ncrop = {crop}\nraised = {facts['way']}\nbed = {cover}\n{into}"
                              f"sown = {days[i][0]}\nplants = 6\n\n")
                    number += 1
    print(f"{number} sowings written")


def compare(table):
    days = weather()
    engine = {}
    with open(table, encoding="ascii") as file:
        for line in file:
            name, sown, _, up, _ = line.split()
            engine[name] = (sown, up)
    compared, off, worst, worst_name, sine_worst, never = 0, [], 0, "", 0, 0
    agreed = failed = 0  # crops
    for crop, facts in crops().items():
        before = len(off)
        mean, half = soil(days, facts["depth"])
        for cover, (gain, factor) in COVERS.items():
            here = [max(m, min(m + gain, VENTED)) if cover == "frame" else m + gain for m in mean]
            daily = [two(facts["rate"], m, h * factor) for m, h in zip(here, half)]
            sine = [hours(facts["rate"], m, h * factor) for m, h in zip(here, half)]
            for i in sown_on(days):
                name = f"{crop}-{cover}-{i}"
                sown, up = engine[name]
                if sown != str(days[i][0]):
                    off.append(f"{name}: sown {days[i][0]}, the engine says {sown}")
                    continue
                ours, fine = emerge(daily, i), emerge(sine, i)
                if ours is None or ours > 120:
                    # The engine gives seed up after 120 days, and it may look past the end of the record.
                    never += 1
                    if up != "-" and ours is not None and ours > 121:
                        off.append(f"{name}: {ours} days here, the engine says {up}")
                    continue
                compared += 1
                if up == "-":
                    if ours < 119:
                        off.append(f"{name}: up after {ours} days here, never for the engine")
                    continue
                theirs = (datetime.date.fromisoformat(up) - days[i][0]).days
                if abs(theirs - ours) > abs(worst):
                    worst, worst_name = theirs - ours, name
                if fine is not None:
                    sine_worst = max(sine_worst, abs(theirs - fine), key=abs)
                if abs(theirs - ours) > ALLOWED:
                    off.append(f"{name}: up after {ours} days here, {theirs} for the engine")
        agreed += len(off) == before
        failed += len(off) > before
    for line in off[:40]:
        print(line)
    print(f"{compared} sowings of {len(crops())} crops compared over 2012-2015, {never} beyond the record or 120 days; "
          f"worst difference {worst:+d} d {worst_name}; against the rate summed over 24 hours of a sine: {sine_worst} d")
    print(f"{agreed} passed, {failed} failed, 0 skipped")
    return bool(off) or compared < 1000


if __name__ == "__main__":
    if sys.argv[1] == "write":
        write(sys.argv[2])
    else:
        sys.exit(compare(sys.argv[3]))
