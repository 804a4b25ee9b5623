"""Our sun against PyEphem's, at random places on random days.

sun.py ask SEED                         prints the questions for sun_table.c
sun.py compare SEED QUESTIONS ANSWERS   compares its answers

PyEphem is asked for the geometric centre of the sun 0.833 degrees under the horizon, without its own refraction
(pressure 0, use_center): that is what "upper limb, mean refraction" means in the almanacs and in ours.
"""
import datetime
import math
import random
import sys

import ephem

PAIRS = 1000
# Seconds. Below 60 degrees the sun crosses the horizon briskly; towards the polar circles it grazes it, and a hundredth of
# a degree in its height is minutes of time, so there the height at our own times is what counts.
WITHIN_TIME, WITHIN_LENGTH, BRISK = 15, 15, 60
WITHIN_HEIGHT = 0.02  # degrees, everywhere: four hundredths of the sun's disc
WITHIN_SEASON = 90  # Meeus gives 51 s for his short series; PyEphem is up to 35 s from other libraries
# The state is not asked where the sun at its noon or midnight comes within this of the horizon (degrees): between two
# noons it climbs or falls up to 0.4, and the day is then both kinds.
GRAZES = 0.25
HORIZON = -0.833
SEASONS = (ephem.next_vernal_equinox, ephem.next_summer_solstice, ephem.next_autumnal_equinox, ephem.next_winter_solstice)


def ask(seed):
    draw = random.Random(seed)
    for _ in range(PAIRS):
        # evenly by latitude, so that the far north and south get their share
        day = datetime.date(2000, 1, 1) + datetime.timedelta(days=draw.randrange(36 * 365))
        print(f"sun {draw.uniform(-89, 89):.4f} {draw.uniform(-180, 180):.4f} {day}")
    for year in range(2000, 2036):
        for season in range(4):
            print(f"season {year} {season}")


def observer(latitude, longitude):
    here = ephem.Observer()
    here.lat, here.lon = math.radians(latitude), math.radians(longitude)
    here.pressure, here.elevation, here.horizon = 0, 0, math.radians(HORIZON)
    return here


def height(here, when):
    here.date = when
    sun = ephem.Sun(here)
    return math.degrees(sun.alt)


def extremes(here, noon):
    """Height at the day's transit, and the lower of those at the two midnights around it."""
    here.date = noon
    sun = ephem.Sun()
    top = here.next_transit(sun, start=noon - 0.5)
    return height(here, top), height(here, top - 0.5), height(here, top + 0.5), top


class Worst:
    def __init__(self):
        self.value, self.where = 0.0, "-"

    def see(self, value, where):
        if abs(value) > abs(self.value):
            self.value, self.where = value, where


def compare(seed, questions, answers):
    passed = skipped = 0
    off = []
    worst = {name: Worst() for name in ("time", "length", "height", "season")}
    states = {"rises": 0, "up": 0, "down": 0}
    pairs = list(zip(open(questions, encoding="ascii").read().splitlines(),
                     open(answers, encoding="ascii").read().splitlines()))
    for question, answer in pairs:
        words = question.split()
        if words[0] == "season":
            theirs = SEASONS[int(words[2])](ephem.Date(f"{words[1]}/1/1"))
            # ephem counts days from 1899-12-31 12:00 UTC
            seconds = (float(answer) - 2415020.0 - float(theirs)) * 86400
            worst["season"].see(seconds, question)
            if abs(seconds) <= WITHIN_SEASON:
                passed += 1
            else:
                off.append(f"{question}: {seconds:.0f} s")
            continue
        latitude, longitude = float(words[1]), float(words[2])
        state, rise, set_, length = answer.split()[0], *map(float, answer.split()[1:])
        here = observer(latitude, longitude)
        midnight = ephem.Date(words[3].replace("-", "/"))
        noon = ephem.Date(midnight + (12 - longitude / 15) / 24)
        top, before, after, transit = extremes(here, noon)
        if abs(top - HORIZON) < GRAZES or abs(before - HORIZON) < GRAZES or abs(after - HORIZON) < GRAZES:
            skipped += 1
            continue
        expected = "down" if top < HORIZON else "up" if min(before, after) > HORIZON else "rises"
        states[expected] += 1
        if state != expected:
            off.append(f"{question}: {state}, PyEphem says {expected}")
            continue
        if state != "rises":
            passed += 1
            continue
        errors = []
        for hours in (rise, set_):
            miss = height(here, ephem.Date(midnight + hours / 24)) - HORIZON
            worst["height"].see(miss, question)
            if abs(miss) > WITHIN_HEIGHT:
                errors.append(f"the sun stands {miss:.3f} degrees off the horizon")
        if abs(latitude) < BRISK:
            sun = ephem.Sun()
            here.date = transit
            their_rise = (here.previous_rising(sun, use_center=True) - midnight) * 24
            here.date = transit
            their_set = (here.next_setting(sun, use_center=True) - midnight) * 24
            for ours, theirs in ((rise, their_rise), (set_, their_set)):
                worst["time"].see((ours - theirs) * 3600, question)
                if abs(ours - theirs) * 3600 > WITHIN_TIME:
                    errors.append(f"{(ours - theirs) * 3600:.0f} s apart")
            miss = (length - (their_set - their_rise)) * 3600
            worst["length"].see(miss, question)
            if abs(miss) > WITHIN_LENGTH:
                errors.append(f"day length {miss:.0f} s apart")
        if errors:
            off.append(f"{question}: {'; '.join(errors)}")
        else:
            passed += 1
    for line in off[:20]:
        print(line)
    print(f"SEED={seed}; {states['rises']} days with a sunrise, {states['up']} of polar day, {states['down']} of polar night")
    print(f"worst below {BRISK} degrees: rise or set {worst['time'].value:+.1f} s ({worst['time'].where}), "
          f"day length {worst['length'].value:+.1f} s; bounds {WITHIN_TIME} and {WITHIN_LENGTH} s")
    print(f"worst anywhere: the sun {worst['height'].value:+.4f} degrees off the horizon ({worst['height'].where}); "
          f"bound {WITHIN_HEIGHT}")
    print(f"worst equinox or solstice of 2000-2035: {worst['season'].value:+.0f} s ({worst['season'].where}); "
          f"bound {WITHIN_SEASON} s")
    if skipped:
        print(f"{skipped} days left out: the sun comes within {GRAZES} degrees of grazing the horizon")
    if len(pairs) != PAIRS + 4 * 36 or not all(states.values()):
        off.append("questions are missing")
        print("some questions were not asked or not answered")
    print(f"{passed} passed, {len(off)} failed, {skipped} skipped")
    return bool(off)


if __name__ == "__main__":
    if sys.argv[1] == "ask":
        ask(int(sys.argv[2]))
    else:
        sys.exit(compare(int(sys.argv[2]), sys.argv[3], sys.argv[4]))
