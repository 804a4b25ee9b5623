"""Every shipped crop whose emergence is given as a table must repeat, cell for cell, a row of Harrington & Minges 1954
(tests/data/emergence.csv, read and written down apart from the crop files). Python's own INI reader, not ours."""
import collections
import configparser
import csv
import glob
import re
import sys

# Crops of one species or near kin that stand in for one another; the crop's source says so in brackets.
STANDS_FOR = {"hm54": None, "hm54-cabbage": "cabbage", "hm54-celery": "celery", "hm54-onion": "onion",
              "hm54-lettuce": "lettuce", "hm54-beet": "beetroot"}
# The crop files' names where they differ from the table's.
ALSO = {"sweet-pepper": "pepper", "melon": "muskmelon", "french-bean": "French bean", "lima-bean": "lima bean"}

published = collections.defaultdict(list)
with open("tests/data/emergence.csv", encoding="ascii") as file:
    for row in csv.DictReader(file):
        published[row["crop"]].append((float(row["temperature"]), float(row["days"])))

passed, failed = 0, 0
for name in sorted(glob.glob("rules/crops/*.ini")):
    ini = configparser.ConfigParser(interpolation=None, delimiters=("=",), comment_prefixes=(";", "#"))
    with open(name, encoding="utf-8") as file:
        ini.read_file(file)
    for crop in ini.sections():
        if "emergence" not in ini[crop]:
            continue
        text = ini[crop]["emergence"].replace("\n", " ")
        source = re.search(r"\[([^]]*)\]\s*$", text)
        cells = [(float(t), 0.0 if days == "none" else float(days.split()[0]))
                 for t, days in re.findall(r"(-?[\d.]+) °C: (none|[\d.]+ days)", text)]
        if not source or source.group(1) not in STANDS_FOR:
            print(f"{name}: {crop}: no known source for its table")
            failed += 1
            continue
        row = STANDS_FOR[source.group(1)] or ALSO.get(crop, crop)
        if cells == published.get(row):
            passed += 1
        else:
            print(f"{name}: {crop}: {cells} is not the published row of {row}, {published.get(row)}")
            failed += 1
print(f"{passed} passed, {failed} failed, 0 skipped")
sys.exit(failed > 0 or passed == 0)
