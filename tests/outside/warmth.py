"""Degree-days by the single sine of Baskerville and Emin (Ecology 50:514, 1969), summed here by quadrature of the curve itself
and not by its closed form, over the recorded years in tests/data; the day on which each sum reaches a threshold must be the one
that a rule sees. Where a sum comes within SLACK of its threshold the day before is as good, and is counted."""
import csv
import datetime
import json
import math
import os
import subprocess
import sys

SLACK = 0.05  # K d: what the quadrature may be off by in a season
STEPS = 96    # midpoints of a day
MONTHS = ["January", "February", "March", "April"]
# Pests of cabbage and carrot as published (base and sum, see rules/jobs/pests.ini), and a lattice around them.
PUBLISHED = [(167, 6.1, 1), (820, 6.1, 1), (258, 5, 3), (1150, 5, 3), (30, 10.2, 1)]
LATTICE = [(amount, base, month) for amount in (15, 120, 480, 1300) for base in (0, 4.4, 10) for month in (1, 2, 4)]


def day_sum(low, high, base):
    middle, swing = (low + high) / 2, (high - low) / 2
    return sum(max(0.0, middle + swing * math.sin(2 * math.pi * (step + 0.5) / STEPS) - base) for step in range(STEPS)) / STEPS


def read(path):
    with open(path, newline="") as file:
        return {datetime.date.fromisoformat(row["date"]): (float(row["temp_min"]), float(row["temp_max"])) for row in csv.DictReader(file)}


def reached(days, start, amount, base):
    """The day, and by how much the sum missed it the day before and passed it then."""
    total = 0.0
    day = start
    while day in days:
        before, total = total, total + day_sum(*days[day], base)
        if total >= amount:
            return day, amount - before, total - amount
        day += datetime.timedelta(1)
    return None, 0, 0


def write_garden(folder, weather, latitude):
    os.makedirs(os.path.join(folder, "rules"), exist_ok=True)
    with open(folder + "/garden.ini", "w") as file:
        file.write(f"""[garden]
name = Sums
key = 6ab2c8b4-2a3c-4a0e-9a3f-0e9f2f0b7d11
latitude = {latitude}
longitude = 0
zone = UTC
units = metric
rules = rules
[weather]
observed = {os.path.abspath(weather)}
columns = date=date, low=temp_min [°C], high=temp_max [°C], rain=precipitation [mm], wind=wind [m/s]
[climate]
""")
        for month in ("january february march april may june july august september october november december").split():
            file.write(f"{month} = 5 °C .. 15 °C, 50 mm\n")
        file.write("[bed plain]\nsize = 1 m x 2 m\n[sowing carrot-1]\ncrop = carrot\nbed = plain\nsown = 2011-12-01\n")
    with open(f"{folder}/rules/sums.ini", "w") as file:
        for number, (amount, base, month) in enumerate(PUBLISHED + LATTICE):
            reach = f"warmed({amount} K d, {base} °C, {MONTHS[month - 1]})"
            file.write(f"[reach-{number}]\nkind = Reach\njob = Reach\nduring = {reach} .. {reach} + 400 days\nsource = a test\n")


def main(program, folder):
    passed = failed = close = 0
    for name, latitude in (("seattle", 47.45), ("new-york", 40.7), ("seattle", -47.45)):
        weather = f"tests/data/{name}-weather.csv"
        days, garden = read(weather), f"{folder}/{name}{'-south' if latitude < 0 else ''}"
        write_garden(garden, weather, latitude)
        for year in (2012, 2013, 2014, 2015) if latitude > 0 else (2012, 2013, 2014):
            today = datetime.date(year, 12, 30) if latitude > 0 else datetime.date(year + 1, 6, 29)
            told = subprocess.run([program, "--garden", garden + "/garden.ini", "--state", garden + "/state", "--date", str(today), "--json", "today"],
                                  check=True, capture_output=True, text=True).stdout
            first = {job["rule"]: job["first"] for job in json.loads(told)}
            for number, (amount, base, month) in enumerate(PUBLISHED + LATTICE):
                start = datetime.date(year, month if latitude > 0 else month + 6, 1)
                day, short, over = reached(days, start, amount, base)
                got = first.get(f"reach-{number}")
                if day is None or day > today:  # not within what is recorded
                    continue
                right = {str(day)}
                if short < SLACK:
                    right.add(str(day - datetime.timedelta(1)))
                if over < SLACK:
                    right.add(str(day + datetime.timedelta(1)))
                close += len(right) > 1
                if got in right:
                    passed += 1
                else:
                    failed += 1
                    print(f"{name} {latitude} {year}: {amount} K d above {base} since {start}: {got}, summed here {day}")
    print(f"{passed + failed} dates, {close} of them within {SLACK} K d of the day beside")
    print(f"{passed} passed, {failed} failed, 0 skipped")
    return failed > 0 or passed < 300


sys.exit(main(*sys.argv[1:]))
