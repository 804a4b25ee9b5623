#!/usr/bin/env python3
"""A small forecast server for the demo: serves days of a weather record as if they were forecast, on loopback only.

forecast_server.py RECORD.csv MOMENT ZONE PORT_FILE: stands on MOMENT (2015-06-26T07:00) in ZONE and runs on from there, as dewbelld
does with --stand-on. The port that it got is written to PORT_FILE. The answer is one object of parallel arrays; its description
for dewbell is contrib/demo/sources/recorded.ini.
"""

import csv
import datetime
import http.server
import json
import os
import sys
import zoneinfo

AHEAD = 7  # days told, today among them
LATITUDE, LONGITUDE = 47.45, -122.3  # where the record was taken


def read_record(path):
    with open(path, newline="", encoding="ascii") as file:
        return {row["date"]: row for row in csv.DictReader(file)}


class Clock:
    """Local time in a zone, moved so that it stood on a moment when it was made."""

    def __init__(self, moment, zone):
        self.zone = zoneinfo.ZoneInfo(zone)
        there = moment.replace(tzinfo=self.zone)
        self.shift = there.timestamp() - datetime.datetime.now().timestamp()

    def now(self):
        seconds = datetime.datetime.now().timestamp() + self.shift
        return datetime.datetime.fromtimestamp(seconds, self.zone)


def answer(record, today):
    days = [today + datetime.timedelta(days=ahead) for ahead in range(AHEAD)]
    rows = [record[day.isoformat()] for day in days if day.isoformat() in record]
    issued = datetime.datetime.combine(today, datetime.time(), datetime.timezone.utc)
    return {
        "issued": issued.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "units": {"low": "°C", "high": "°C", "rain": "mm"},
        "days": {
            "date": [row["date"] for row in rows],
            "low": [float(row["temp_min"]) for row in rows],
            "high": [float(row["temp_max"]) for row in rows],
            "rain": [float(row["precipitation"]) for row in rows],
        },
    }


class Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    timeout = 30

    def do_GET(self):
        if self.path.partition("?")[0] != "/forecast":
            self.send_error(404)
            return
        today = self.server.clock.now().date()
        tag = f'"{today.isoformat()}"'
        if self.headers.get("If-None-Match") == tag:
            self.send_response(304)
            self.send_header("ETag", tag)
            self.end_headers()
            return
        body = json.dumps(answer(self.server.record, today), ensure_ascii=False).encode()
        self.send_response(200)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.send_header("ETag", tag)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format, *words):
        sys.stderr.write("forecast server: " + format % words + "\n")


def main():
    if len(sys.argv) != 5:
        sys.exit(__doc__)
    record, moment, zone, port_file = sys.argv[1:]
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.record = read_record(record)
    server.clock = Clock(datetime.datetime.fromisoformat(moment), zone)
    with open(port_file + ".new", "w", encoding="ascii") as file:
        file.write(f"{server.server_port}\n")
    os.replace(port_file + ".new", port_file)
    try:
        server.serve_forever()
    except KeyboardInterrupt:
        pass


if __name__ == "__main__":
    main()
