"""Last and first frosts of the recorded years, and of made-up ones with gaps, against an own count in another language, which
walks through whole seasons with the standard library's calendar and its quantiles of type 7.

frost.py ask SEED FOLDER > QUESTIONS; frost.py compare SEED QUESTIONS ANSWERS"""
import csv
import datetime as dt
import math
import random
import statistics
import sys

GAP = 10
ONE = dt.timedelta(days=1)


def recorded(path, column):
    with open(path, encoding="utf-8") as file:
        return [(dt.date.fromisoformat(row["date"]), float(row[column])) for row in csv.DictReader(file)]


def made_up(chance, years, start):
    """Nights around a wave of the year, with single days and runs of days missing."""
    days, day, missing = [], start, 0
    amplitude, middle = chance.uniform(4, 12), chance.uniform(0, 14)
    while day < start + dt.timedelta(days=365 * years + chance.randrange(300)):
        low = middle - amplitude * math.cos((day.timetuple().tm_yday - 20) / 365 * 2 * math.pi) + chance.gauss(0, 3)
        if missing == 0 and chance.random() < 0.004:
            missing = chance.choice([1, 2, 5, 8, 9, 10, 11, 30])
        days.append((day, None if missing else round(low, 1)))
        missing = max(missing - 1, 0)
        day += ONE
    return days


def ask(seed, folder):
    chance = random.Random(seed)
    records = {"seattle": recorded("tests/data/seattle-weather.csv", "temp_min"),
               "new-york": recorded("tests/data/new-york-weather.csv", "temp_min")}
    for i in range(12):
        start = dt.date(chance.randrange(1950, 2000), chance.randrange(1, 13), chance.randrange(1, 29))
        records[f"made-{i}"] = made_up(chance, chance.randrange(2, 40), start)
    for name, days in records.items():
        with open(f"{folder}/{name}.csv", "w", encoding="utf-8") as file:
            for day, low in days:
                print(day.isoformat(), "" if low is None else low, sep=",", file=file)
        end = days[-1][0] + ONE
        for until in [end] + [days[chance.randrange(len(days))][0] for _ in range(6)]:
            for half in ("NORTH", "SOUTH"):
                print(f"{folder}/{name}.csv", until, half, "RULE", 0)
                for which in ("LAST", "FIRST"):
                    for threshold in (0, chance.choice([-7, -4, -2, 2, 5])):
                        print(f"{folder}/{name}.csv", until, half, which, threshold)


def too_long(lows, days):
    run = 0
    for day in days:
        run = run + 1 if lows.get(day) is None else 0
        if run >= GAP:
            return True
    return False


def span(first, last):
    return [first + i * ONE for i in range((last - first).days + 1)]


def count(lows, half, which, threshold):
    """(seasons, none, days) by looking at each season as a whole."""
    year_one, seasons, none, found = min(lows).year - 2, 0, 0, []
    for year in range(year_one, max(lows).year + 3):
        winter = dt.date(year, 7 if half == "SOUTH" else 1, 1)  # the frost year begins
        next_winter = dt.date(year + 1, 7 if half == "SOUTH" else 1, 1)
        if half == "SOUTH":
            before, split, after = dt.date(year, 1, 24), dt.date(year + 1, 1, 24), dt.date(year + 2, 1, 24)
        else:
            before, split, after = dt.date(year - 1, 7, 24), dt.date(year, 7, 24), dt.date(year + 1, 7, 24)
        if which == "LAST":
            matters, season = span(winter, split - ONE), span(before, split - ONE)[::-1]
        else:
            matters, season = span(split, next_winter - ONE), span(split, after - ONE)
        if too_long(lows, matters):
            continue
        seasons += 1
        run, day = 0, None
        for at in season:
            run = run + 1 if lows.get(at) is None else 0
            if run >= GAP:
                break
            if run == 0 and lows[at] <= threshold:
                day = at
                break
        if day is None:
            none += 1
        else:
            found.append((day - winter).days + 1)
    return seasons, none, sorted(found)


def type_seven(days, share):
    """The standard library's inclusive cut points are type 7."""
    return float(days[0]) if len(days) == 1 else statistics.quantiles(days, n=10, method="inclusive")[round(share * 10) - 1]


def odds_day(seasons, none, days, which, share):
    """The day by which a share of all seasons had theirs, as a fraction of a day; None where it falls among those without."""
    if not days:
        return None
    if seasons < 10 and share != 0.5:
        return days[0] if share < 0.5 else days[-1]
    everyone = [None] * none + days if which == "LAST" else days + [None] * none
    at = (len(everyone) - 1) * share
    below, part = int(at), at - int(at)
    ends = everyone[below:below + 1 + (part > 0)]
    return None if None in ends else ends[0] + part * (ends[-1] - ends[0])


def rule_dates(known, until, half):
    """What rules see on that day: early, likely and late last and first frost of its frost year."""
    words = []
    year = until.year - (half == "SOUTH" and until.month < 7)
    winter = dt.date(year, 7 if half == "SOUTH" else 1, 1)
    for which in ("LAST", "FIRST"):
        seasons, none, days = count(known, half, which, 0.0) if known else (0, 0, [])
        for share in (0.1, 0.5, 0.9):
            day = odds_day(seasons, none, days, which, share)
            whole = None if day is None else math.floor(day + 0.5) if day >= 0 else math.ceil(day - 0.5)
            words.append("-" if whole is None else (winter + (whole - 1) * ONE).isoformat())
    return words


def compare(seed, questions, answers):
    passed = failed = 0
    seen = {"seasons": 0, "none": 0, "rule dates": 0}
    for question, answer in zip(open(questions, encoding="utf-8"), open(answers, encoding="utf-8"), strict=True):
        path, until, half, which, threshold = question.split()
        with open(path, encoding="utf-8") as file:
            rows = [line.rstrip("\n").split(",") for line in file]
        lows = {dt.date.fromisoformat(d): float(low) if low else None for d, low in rows}
        known = {d: low for d, low in lows.items() if d < dt.date.fromisoformat(until)}
        if which == "RULE":
            expected, got = rule_dates(known, dt.date.fromisoformat(until), half), answer.split()
            seen["rule dates"] += sum(word != "-" for word in expected)
            passed, failed = passed + (got == expected), failed + (got != expected)
            if got != expected and failed < 5:
                print(f"{question.strip()}: expected {expected}, got {got}")
            continue
        seasons, none, days = count(known, half, which, float(threshold)) if known else (0, 0, [])
        expected = [seasons, none] + days
        expected += [type_seven(days, p) for p in (0.1, 0.5, 0.9)] if days else [math.nan] * 3
        got = [float(word) for word in answer.split()]
        seen["seasons"] += seasons
        seen["none"] += none
        same = len(got) == len(expected) and all(
            abs(a - b) < 1e-6 or (math.isnan(a) and math.isnan(b)) for a, b in zip(got, expected))
        passed, failed = passed + same, failed + (not same)
        if not same and failed < 5:
            print(f"{question.strip()}: expected {expected}, got {got}")
    print(f"seed {seed}: {seen['seasons']} seasons, {seen['none']} of them without frost, {seen['rule dates']} dates of rules")
    if seen["seasons"] < 1000 or seen["none"] < 50 or seen["rule dates"] < 300:
        print("the questions ask too little")
        failed += 1
    print(f"{passed} passed, {failed} failed, 0 skipped")
    return 1 if failed else 0


if sys.argv[1] == "ask":
    ask(int(sys.argv[2]), sys.argv[3])
else:
    sys.exit(compare(int(sys.argv[2]), sys.argv[3], sys.argv[4]))
