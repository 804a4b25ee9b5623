#!/usr/bin/env python3
"""hostile_feeds.py GARDENS NAME: how the feeds of GARDENS/NAME stand to those of GARDENS/plain, which asks for no forecast.

Prints "same" when they differ in nothing but what a garden's own key and name make, else "other"; then what their reasons
say of the weather: "climate" when it is the climate's averages throughout, "forecast" when those come after a day that is
known, in some of them at least (an entry that was published before may keep its words).
"""

import re
import sqlite3
import sys


def feeds(folder, name):
    file = sqlite3.connect(f"file:{folder}/{name}/.dewbell/record.sqlite?mode=ro", uri=True)
    text = "".join(bytes(row[0]).decode() for row in file.execute("SELECT bytes FROM served ORDER BY feed"))
    text = text.replace("\r\n ", "").replace(f"Garden {name}", "Garden")
    text = re.sub(r"\r\n(UID|RELATED-TO|DTSTAMP|CREATED|LAST-MODIFIED|URL)[:;][^\r]*", "", text)
    return sorted(re.findall(r"BEGIN:(?:VEVENT|VTODO).*?END:(?:VEVENT|VTODO)", text, re.S))


def marks(text):
    averages = re.findall(r"with the climate's averages( after)?", text)
    if not averages:
        return "nothing"
    return "forecast" if any(averages) else "climate"


def main():
    own, plain = feeds(sys.argv[1], sys.argv[2]), feeds(sys.argv[1], "plain")
    assert plain, "the plain garden has no jobs"
    print("same" if own == plain else "other", marks("".join(own)))


main()
