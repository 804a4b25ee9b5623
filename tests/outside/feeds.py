"""feeds.py GARDEN FOLDER DAY...: what python3-icalendar, vobject and ical.js make of the feeds, against each other and the
jobs that the program told of."""
import configparser
import datetime
import json
import re
import os
import sys
import uuid

import icalendar

try:
    import vobject
except ImportError:
    vobject = None

passed = failed = skipped = 0


def check(what, good, *details):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"{what}:", *[str(d)[:300] for d in details])


def skip(what):
    global skipped
    skipped += 1
    print(f"skipped: {what}")


def plain(stamp):
    return stamp.strftime("%Y-%m-%dT%H:%M:%SZ")


def as_icalendar(path):
    """The events as python3-icalendar reads them, in the shape that feeds.cjs writes."""
    with open(path, "rb") as feed:
        calendar = icalendar.Calendar.from_ical(feed.read())
    events = []
    for event in calendar.walk("VEVENT"):
        categories = event.get("CATEGORIES")
        events.append({
            "uid": str(event["UID"]),
            "summary": str(event["SUMMARY"]),
            "description": str(event["DESCRIPTION"]),
            "location": str(event.get("LOCATION", "")),
            "start": event["DTSTART"].dt.isoformat(),
            "end": event["DTEND"].dt.isoformat(),
            "sequence": int(event["SEQUENCE"]),
            "modified": plain(event["LAST-MODIFIED"].dt),
            "stamp": plain(event["DTSTAMP"].dt),
            "categories": [str(c) for c in categories.cats] if categories else [],
            "alarms": [[str(a["UID"]), int(a["TRIGGER"].dt.total_seconds())] for a in event.walk("VALARM")],
        })
    return calendar, events


def raw_lines(path):
    with open(path, "rb") as feed:
        text = feed.read()
    check(f"{path}: CR LF only", text.replace(b"\r\n", b"").count(b"\n") == 0 and text.replace(b"\r\n", b"").count(b"\r") == 0)
    lines = text.split(b"\r\n")
    check(f"{path}: at most 75 octets", max(map(len, lines)) <= 75, max(lines, key=len))
    for line in lines:
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as wrong:
            check(f"{path}: a line cut inside a character", False, line, wrong)
    head = text.split(b"BEGIN:VEVENT")[0]
    check(f"{path}: nothing of an event's above the first", b"UID:" not in head and b"LAST-MODIFIED" not in head, head)
    for word in (b"METHOD", b"TZID", b"VTIMEZONE", b"ORGANIZER"):
        check(f"{path}: no {word.decode()}", word not in text)


def shape(path, events):
    check(f"{path}: at least one event", len(events) >= 1)
    uids = [e["uid"] for e in events]
    check(f"{path}: no UID twice", len(set(uids)) == len(uids))
    check(f"{path}: in order of day and UID", [(e["start"], e["uid"]) for e in events] == sorted((e["start"], e["uid"]) for e in events))
    for e in events:
        start, end = (datetime.date.fromisoformat(e[k]) for k in ("start", "end"))
        check(f"{path}: {e['uid']} lasts one day", (end - start).days == 1, e["start"], e["end"])
        check(f"{path}: {e['uid']} stamped alike", e["stamp"] == e["modified"], e["stamp"], e["modified"])
        check(f"{path}: {e['uid']} short enough", len(e["summary"]) <= 60, e["summary"])


def by_vobject(path):
    if vobject is None:
        skip(f"{path}: python3-vobject is not installed")
        return
    with open(path, encoding="utf-8", newline="") as feed:
        calendar = vobject.readOne(feed.read())
    # vobject does not know that a VALARM may carry a UID (RFC 9074); it validates the rest.
    check(f"{path}: vobject finds it valid", calendar.validate(raiseException=False))
    check(f"{path}: vobject sees events", len(calendar.vevent_list) >= 1)


def by_ical_js(path, events):
    other = path[:-4] + ".js.json"
    if not os.path.exists(other):
        skip(f"{path}: ical.js")
        return
    with open(other, encoding="utf-8") as file:
        theirs = json.load(file)
    check(f"{path}: as many events for ical.js", len(theirs) == len(events), len(theirs), len(events))
    for ours, js in zip(events, theirs):
        check(f"{path}: {ours['uid']} the same for ical.js", ours == js, *[f"{k}: {ours[k]!r} {js.get(k)!r}" for k in ours if ours[k] != js.get(k)])


def job_uid(key, job):
    """UUIDv5 as the standard library makes it; the third part of a job's name counts from 1."""
    number = job["job"].split("/")[2:]
    return str(uuid.uuid5(key, f"job|{job['rule']}|{job['sowing']}|{int(number[0]) - 1 if number else 0}"))


MONTHS = "January February March April May June July August September October November December".split()
DATE = re.compile(r"\b(\d{1,2}) (" + "|".join(MONTHS) + r")\b")
LEAST_MOVE = 4  # days: docs/models.md, "Calm": a window whose ends shift by less stays as it was published


def has_stayed(then, now, ago):
    """The same how-to but for its dates, each of which has shifted by less than what moves a published job; by more where it
    was published as many days ago as lie between the days of this test, in which the weather cannot have been foreseen."""
    def days(text):
        return [datetime.date(2015, MONTHS.index(month) + 1, int(day)) for day, month in DATE.findall(text)]

    return DATE.sub("", then) == DATE.sub("", now) and all(abs(a - b).days < max(LEAST_MOVE, ago / 8) for a, b in zip(days(then), days(now)))


def against_jobs(path, events, jobs, key, published, day):
    """published: by UID, the description that an event was last built with, the how-to of its job on that day, and that day.
    While the description is the same, the how-to that it was built with stands in it; today's differs from that by a few days only."""
    check(f"{path}: as many events as jobs", len(events) == len(jobs), len(events), len(jobs))
    seen = {e["uid"]: e for e in events}
    for job in jobs:
        event = seen.get(job_uid(key, job))
        if event is None:
            check(f"{path}: an event for {job['job']}", False)
            continue
        said = ("✓ " if job["state"] == "done" else "") + job["summary"]
        if len(said) > 60:
            check(f"{path}: {job['job']} cut", event["summary"].endswith("…") and said.startswith(event["summary"][:-1]), event["summary"], said)
        else:
            check(f"{path}: {job['job']} says the same", event["summary"] == said, event["summary"], said)
        check(f"{path}: {job['job']} on its day", event["start"] == job["on"], event["start"], job["on"])
        check(f"{path}: {job['job']} in its bed", event["location"] == job["bed"], event["location"], job["bed"])
        if job["state"] != "open":  # nobody reads any more how it is done
            check(f"{path}: {job['job']} no how", "How: " not in event["description"] and "Takes about" not in event["description"], event["description"])
            continue
        how, (text, built_with, built) = job["how"].strip(), published.get(event["uid"], ("", "", day))
        if text == event["description"] and how != built_with:
            ago = (datetime.date.fromisoformat(day) - datetime.date.fromisoformat(built)).days
            check(f"{path}: {job['job']} how, as it was published", has_stayed(built_with, how, ago), built_with, how)
            how = built_with
        else:
            built = day
        check(f"{path}: {job['job']} how", how in event["description"], event["description"], how)
        published[event["uid"]] = (event["description"], how, built)


def against_mornings(path, events, jobs, day):
    today = datetime.date.fromisoformat(day)
    dates = {(today + datetime.timedelta(days=d)).isoformat() for d in range(-30, 14)}
    wanted = {j["on"] for j in jobs} & dates
    got = {e["start"] for e in events}
    check(f"{path}: a morning for each day with jobs", wanted == got - ({day} - wanted), sorted(wanted ^ got))
    for e in events:
        check(f"{path}: {e['start']} rings at 06:30", all(seconds == 23400 for _, seconds in e["alarms"]) and len(e["alarms"]) <= 1, e["alarms"])


def components(path):
    """UID -> the bytes of its event."""
    with open(path, encoding="utf-8", newline="") as feed:
        parts = feed.read().split("BEGIN:VEVENT\r\n")[1:]
    return {p.split("\r\n")[0]: p.split("END:VEVENT\r\n")[0] for p in parts}


def from_day_to_day(before, after, name):
    old, new = components(f"{before}/{name}.ics"), components(f"{after}/{name}.ics")
    was = {e["uid"]: e for e in as_icalendar(f"{before}/{name}.ics")[1]}
    risen = same = 0
    for e in as_icalendar(f"{after}/{name}.ics")[1]:
        uid = "UID:" + e["uid"]
        if uid not in old:
            continue
        if old[uid] == new[uid]:
            same += 1
            continue
        risen += 1
        then = was[e["uid"]]
        check(f"{after}/{name}: {e['uid']} rose", e["sequence"] > then["sequence"] and e["modified"] > then["modified"], then, e)
        for what in ("summary", "description", "start", "location", "categories", "alarms"):
            if e[what] != then[what]:
                break
        else:
            check(f"{after}/{name}: {e['uid']} rose without a change", False, e)
    print(f"{name}, {os.path.basename(before)} to {os.path.basename(after)}: {same} the same bytes, {risen} changed")


def main():
    garden, folder, days = sys.argv[1], sys.argv[2], sys.argv[3:]
    plan = configparser.ConfigParser(strict=False, interpolation=None)
    plan.read(garden, encoding="utf-8")
    key = uuid.UUID(plan["garden"]["key"].split()[0])
    published = {}
    for day in days:
        with open(f"{folder}/{day}/jobs.json", encoding="utf-8") as file:
            jobs = json.load(file)
        check(f"{day}: the demo has jobs", len(jobs) > 10, len(jobs))
        with open(f"{folder}/{day}/first.ics", "rb") as one, open(f"{folder}/{day}/jobs.ics", "rb") as two:
            check(f"{day}: written again, the same bytes", one.read() == two.read())
        for name in ("jobs", "mornings"):
            path = f"{folder}/{day}/{name}.ics"
            raw_lines(path)
            events = as_icalendar(path)[1]
            shape(path, events)
            by_vobject(path)
            by_ical_js(path, events)
            if name == "jobs":
                against_jobs(path, events, jobs, key, published, day)
            else:
                against_mornings(path, events, jobs, day)
    for before, after in zip(days, days[1:]):
        for name in ("jobs", "mornings"):
            from_day_to_day(f"{folder}/{before}", f"{folder}/{after}", name)
    print(f"{passed} passed, {failed} failed, {skipped} skipped")
    return failed != 0


sys.exit(main())
