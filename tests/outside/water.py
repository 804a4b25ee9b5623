"""Water in the ground over four recorded years, worked out apart from the engine, against what the engine says.

water.py write FOLDER          writes a garden of every crop with figures for water, on many grounds, sown on many days
water.py compare FOLDER TABLE  compares the engine's table (water_table.c) with the books below

The books are written from docs/models.md, "Water", and the equations of FAO Irrigation and Drainage Paper 56 that it names (21,
23-25, 52, 73, 74, 82, 84, the note under table 22), not from the engine's source. The days on which a sowing comes up and
crops are the engine's own: they are tried elsewhere. The yearly sums of the reference and the July waterings of a seedbed
are the published check values of an earlier, independent reckoning.
"""
import configparser
import csv
import datetime
import glob
import math
import re
import sys

LATITUDE = 47.45
DAY = datetime.timedelta(days=1)
# field capacity, wilting point, REW, TEW of 0.10 m: middles of FAO-56 table 19 (from memory); potting mix an estimate
SOILS = {"loam": (.25, .095, 9, 19), "sand": (.12, .04, 4.5, 9), "sandy loam": (.23, .10, 8, 17.5),
         "clay": (.36, .20, 10, 25.5), "potting mix": (.45, .20, 10, 25)}
COVERS = {"open": (1, 1), "board": (.3, .3), "fleece": (1, .7), "frame": (0, .8), "tunnel": (0, .8)}  # rain, use
BEDS = {"loam": ("open", "loam", None), "sand": ("open", "sand", None), "light": ("fleece", "sandy loam", None),
        "heavy": ("open", "clay", None), "box": ("frame", "loam", .25), "hoops": ("tunnel", "loam", None),
        "trough": ("open", "potting mix", .25), "dish": ("open", "potting mix", .05)}  # cover, soil, depth m


def read_crops():
    found = {}
    for name in sorted(glob.glob("rules/crops/*.ini")):
        ini = configparser.ConfigParser(interpolation=None, delimiters=("=",), comment_prefixes=(";", "#"))
        with open(name, encoding="utf-8") as file:
            ini.read_file(file)
        for section in ini.sections():
            if "kcb_mid" in ini[section]:
                found[section] = ini[section]
    return found


def amount(crop, key, end=None):
    """Metres, or a plain number; of a range the middle, or one end."""
    if key not in crop:
        return None
    unit = {"mm": .001, "cm": .01, "m": 1, "%": .01, "": 1}
    got = [float(n) * unit[u] for n, u in re.findall(r"([0-9]+(?:\.[0-9]+)?) ?(mm|cm|m|%|)(?=\s|$)", crop[key].split("[")[0])]
    return got[0] if end == 0 else sum(got) / len(got)


def weather():
    days = {}
    with open("tests/data/seattle-weather.csv", encoding="ascii") as file:
        for row in csv.DictReader(file):
            days[datetime.date.fromisoformat(row["date"])] = tuple(
                float(row[key]) for key in ("temp_min", "temp_max", "precipitation"))
    return days


def reference(date, low, high):
    turn = 2 * math.pi * date.timetuple().tm_yday / 365
    phi, tilt = math.radians(LATITUDE), .409 * math.sin(turn - 1.39)
    sunset = math.acos(-math.tan(phi) * math.tan(tilt))
    above = 24 * 60 / math.pi * .0820 * (1 + .033 * math.cos(turn)) * (
        sunset * math.sin(phi) * math.sin(tilt) + math.cos(phi) * math.cos(tilt) * math.sin(sunset))
    return max(0.0, .0023 * ((low + high) / 2 + 17.8) * math.sqrt(high - low) * above * .408)


def write(folder):
    way_of = {"drill": "row = 3 m", "stations": "row = 4 m", "sets": "row = 3 m",
              "plugs": "plugs = 12\nplants = 12", "pot": "plants = 8"}
    with open(folder + "/garden.ini", "w", encoding="utf-8") as out:
        out.write("[garden]\nname = Water\nkey = 7c9e6679-7425-40de-944b-e07fc1f90ae7\nlatitude = 47.45\n"
                  "longitude = -122.3\nzone = America/Los_Angeles\n\n[weather]\nobserved = weather.csv\n"
                  "past_years = weather.csv\n"
                  "columns = date=date, low=temp_min [°C], high=temp_max [°C], rain=precipitation [mm], wind=wind [m/s]\n\n"
                  "[bed bench]\ncover = indoors\n\n")
        for name, (cover, soil, depth) in BEDS.items():
            out.write(f"[bed {name}]\ncover = {cover}\nsoil = {soil}\n" + (f"depth = {depth * 100:g} cm\n" if depth else "") + "\n")
        # The series begins 30 days before the first sowing.
        out.write("[sowing carrot-first]\ncrop = carrot\nraised = drill\nbed = loam\nsown = 2012-01-31\nrow = 3 m\n\n")
        count = 0
        for crop, facts in read_crops().items():
            ways = [w.strip() for w in facts["raise"].split("[")[0].split(",")]
            for year in (2012, 2013, 2014, 2015):
                for month, day in ((3, 5), (4, 20), (6, 1), (7, 12)):
                    way, bed = ways[count % len(ways)], list(BEDS)[count % len(BEDS)]
                    tray = way in ("plugs", "pot")
                    out.write(f"[sowing {crop}-{count}]\ncrop = {crop}\nraised = {way}\n"
                              f"bed = {'bench' if tray else bed}\n" + (f"into = {bed}\n" if tray else "")
                              + f"sown = {year}-{month:02}-{day:02}\n{way_of[way]}\nbefore_solstice = yes\n\n")
                    count += 1


def sections(folder):
    ini = configparser.ConfigParser(interpolation=None, delimiters=("=",), comment_prefixes=(";", "#"))
    with open(folder + "/garden.ini", encoding="utf-8") as file:
        ini.read_file(file)
    return {s.split(" ", 1)[1]: ini[s] for s in ini.sections() if s.startswith("sowing ")}


class Books:
    """One sowing's water from day to day."""

    def __init__(self, sowing, crop, life, days, mm):
        self.way, self.crop, self.days, self.mm = sowing["raised"], crop, days, mm
        self.tray = self.way in ("plugs", "pot")
        cover, soil, depth = BEDS[sowing.get("into", sowing["bed"])]
        self.capacity, self.wilting, self.rew, self.tew = SOILS[soil]
        self.pass_rain, self.use = COVERS[cover]
        self.mix = soil == "potting mix"
        if self.mix:
            self.use *= 1.5
        if depth and depth < .10:
            self.rew, self.tew = self.rew * depth / .10, self.tew * depth / .10
        self.start, up, self.crops, self.cleared = life
        self.grows = self.start if self.tray else up if up else self.start if self.way == "sets" else None
        self.reach = min(amount(crop, "root_depth", 0), depth or 9)
        self.row = amount(sowing, "row")
        self.count = float(re.match(r"\d+", sowing.get("plants", sowing.get("plugs", "0"))).group())
        if self.way == "plugs" and "cluster_spacing" in crop:
            self.count = float(sowing["plugs"])

    def grown(self, date, begin):
        span = max(10, (self.crops - self.grows).days)
        return min(1, max(0, ((date - self.grows).days / span - begin) / (.6 - begin)))

    def kcb(self, date):
        mid, end = amount(self.crop, "kcb_mid"), amount(self.crop, "kcb_end")
        past = (date - self.grows).days - max(10, (self.crops - self.grows).days)
        if past > 0 and self.cleared and self.cleared > self.crops:
            return mid + (end - mid) * min(1, past / (self.cleared - self.crops).days)
        return .15 + (mid - .15) * self.grown(date, .2)

    def wetted(self, grown):
        clusters = self.way == "plugs" and "cluster_spacing" in self.crop
        apart, rows = amount(self.crop, "cluster_spacing" if clusters else "spacing"), amount(self.crop, "row_spacing")
        if self.row:
            everything = self.row * rows
            small = min(self.row / apart * .07, self.row * .15) if self.way == "stations" else self.row * .15
        else:
            everything, small = self.count * apart * rows, self.count * .07
        return min(small, everything) + max(0, everything - small) * grown

    def keep(self):
        top = root = 0.0
        asked, filled = 0, "planted" if self.tray else "sown"
        date = self.start
        while date in self.days and (date - self.start).days < 800:
            et0 = self.mm[date] * self.use
            rain = self.days[date][2] * self.pass_rain
            rain = rain if rain >= .2 * et0 else 0
            seedbed = self.grows is None or date < self.grows
            known = seedbed or self.crops
            grown = kcb = 0
            if not seedbed and known:
                grown, kcb = self.grown(date, 0), self.kcb(date)
                zr = min(.10, self.reach) + max(0, self.reach - .10) * grown
                taw = 1000 * (self.capacity - self.wilting) * zr
                p = min(.8, max(.1, amount(self.crop, "depletion") + .04 * (5 - (kcb + .1) * et0)))
                raw = p * taw
                if date == self.grows and date > self.start:
                    root = min(top, taw)
            if date > self.start and known:
                full = (top if seedbed else root) <= rain and rain > 0
                top = max(0, top - rain)
                kr = 1 if top <= self.rew else max(0, (self.tew - top) / (self.tew - self.rew))
                gone = min(self.tew - top, kr * (max(1.15, kcb + .05) - kcb) * et0)
                top += gone
                if not seedbed:
                    root = max(0, root - rain)
                    ks = 1 if root <= raw else max(0, (taw - root) / (taw - raw))
                    root = min(taw, root + gone + ks * kcb * et0)
                if full:
                    filled = "rain"
            dry = (top if seedbed else root) if known else math.nan
            if seedbed:
                depth = amount(self.crop, "depth")
                limit = self.rew + (self.tew - self.rew) * min(.5, max(0, (depth * 1000 - 20) / 80))
            elif self.tray and (date - self.start).days <= 10:
                limit = self.rew / 2
            elif known:
                limit = min(max(raw + (0 if self.mix else .2) * (taw - raw), self.rew), .8 * taw)
            yield date, dry, limit if known else math.nan, dry * self.wetted(grown), filled
            coming = self.days.get(date + DAY, (0, 0, 0))[2] * self.pass_rain
            if not dry >= limit:
                asked = 0
            elif coming < .7 * dry or dry >= 1.25 * limit:
                asked += 1
            fresh = self.tray and (date - self.start).days <= 10
            if asked >= (2 if seedbed or fresh else 3):
                top = root = 0.0
                asked, filled = 0, "asked"
            date += DAY


def compare(folder, table):
    days = weather()
    mm = {date: reference(date, low, high) for date, (low, high, _) in days.items()}
    told, lives, books = {}, {}, {}
    with open(table, encoding="ascii") as file:
        for line in file:
            word, *rest = line.split()
            if word == "reference":
                told[datetime.date.fromisoformat(rest[0])] = float(rest[1])
            elif word == "life":
                lives[rest[0]] = [None if d == "-" else datetime.date.fromisoformat(d) for d in rest[1:]]
            else:
                books.setdefault(rest[0], []).append(
                    (datetime.date.fromisoformat(rest[1]), *(float(x) for x in rest[2:5]), rest[5]))
    passed, failed = 0, []

    def check(right, what):
        nonlocal passed
        if right:
            passed += 1
        else:
            failed.append(what)

    for date, value in mm.items():
        check(abs(told.get(date, math.nan) - value) < 1e-6, f"reference of {date}: {told.get(date)}, here {value}")
    for year, known in ((2012, 799.1), (2013, 832.0), (2014, 866.2), (2015, 898.8)):
        got = sum(v for d, v in told.items() if d.year == year)
        check(abs(got - known) < .1, f"reference of {year}: {got:.1f}, published {known}")

    crops, plan = read_crops(), sections(folder)
    most, count, asked = 0.0, 0, 0
    for name, sowing in plan.items():
        life = lives[name]
        if not life[0] or life[0] not in days:
            check(name not in books, f"{name}: books without a beginning")
            continue
        mine = list(Books(sowing, crops[sowing["crop"]], life, days, mm).keep())
        theirs = books.get(name, [])
        check(len(mine) == len(theirs), f"{name}: {len(theirs)} days, here {len(mine)}")
        for here, there in zip(mine, theirs):
            count += 1
            apart = [abs(a - b) for a, b in zip(here[1:4], there[1:4]) if not (math.isnan(a) and math.isnan(b))]
            wrong = here[0] != there[0] or (here[4] != there[4] and here[1] == here[1]) or not all(x < 1e-6 for x in apart)
            most = max([most] + apart)
            asked += here[4] == "asked"
            if wrong:
                failed.append(f"{name}: {there}, here {here}")
                break
        else:
            passed += 1
    check(count > 50000, f"only {count} days were compared")
    check(asked > 1000, f"only {asked} of them lie after an unnoted watering")
    for line in failed[:20]:
        print(line)
    print(f"{len(plan)} sowings of {len(crops)} crops, {count} days compared; largest difference {most:.1e} mm or litres")
    print(f"{passed} passed, {len(failed)} failed, 0 skipped")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(write(sys.argv[2]) if sys.argv[1] == "write" else compare(sys.argv[2], sys.argv[3]))
