#!/usr/bin/env python3
"""A weather server that lies, stalls and attacks, on loopback only.

hostile_server.py DAY PORT_FILE: each path misbehaves in its own way; /good answers rightly for DAY and the days after it.
The port that it got is written to PORT_FILE. Figures are invented.
"""

import datetime
import gzip
import http.server
import json
import os
import sys
import time

DAY = datetime.date.fromisoformat(sys.argv[1])
LATITUDE, LONGITUDE = 52.1, -1.9
SECONDS = 120  # nothing here goes on for longer


def days(low=11.0, high=31.5, rain=0.0, count=8, step=1):
    """One answer: warm, dry days unlike any climate."""
    dates = [DAY + datetime.timedelta(days=step * n) for n in range(count)]
    return {
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "days": {
            "time": [date.isoformat() for date in dates],
            "low": [low] * count,
            "high": [high] * count,
            "rain": [rain] * count,
        },
    }


def elsewhere():
    answer = days()
    answer["latitude"] = 40.7
    answer["longitude"] = -74.0
    return answer


BOMB = gzip.compress(bytes(200 * 1024 * 1024), 9)

BODIES = {
    "/good": lambda: json.dumps(days()),
    "/place": lambda: json.dumps(elsewhere()),
    "/units": lambda: json.dumps(days(low=61.0, high=88.0)),  # Fahrenheit, said to be Celsius
    "/nulls": lambda: json.dumps(days(low=None, high=None, rain=None)),
    "/nan": lambda: json.dumps(days(low=float("nan"), high=float("nan"), rain=float("nan"))),
    "/infinite": lambda: json.dumps(days(high=float("inf"))),
    "/backwards": lambda: json.dumps(days(step=-1)),
    "/nesting": lambda: "[" * (10 * 1024 * 1024),
    "/nested": lambda: "[" * 100_000,  # short enough to be read
    "/shape": lambda: json.dumps({"forecast": {"tomorrow": "fine"}}),
    "/array": lambda: json.dumps([days()]),
    "/cut": lambda: json.dumps(days())[:-40],
    "/html": lambda: "<!DOCTYPE html><title>Sign in to this network</title>",
    "/empty": lambda: "",
    "/values": lambda: "[" + "0," * 900_000 + "0]",
}


class Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    timeout = 30

    def log_message(self, *_):
        pass

    def plain(self, status, body=b"", **headers):
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def slowly(self, piece, pause):
        """Chunk after chunk, until the other side has had enough."""
        self.send_response(200)
        self.send_header("Transfer-Encoding", "chunked")
        self.end_headers()
        end = time.monotonic() + SECONDS
        while time.monotonic() < end:
            self.wfile.write(b"%x\r\n%s\r\n" % (len(piece), piece))
            self.wfile.flush()
            time.sleep(pause)

    def do_GET(self):
        self.close_connection = True
        try:
            self.answer()
        except (BrokenPipeError, ConnectionResetError):
            pass

    def answer(self):
        if self.path in BODIES:
            self.plain(200, BODIES[self.path]().encode(), Content_Type="application/json")
        elif self.path == "/stall":
            time.sleep(SECONDS)
        elif self.path == "/drip":
            self.slowly(b"{", 1)
        elif self.path == "/endless":
            self.slowly(b"[0, " * 16384, 0)
        elif self.path == "/bomb":
            self.plain(200, BOMB, Content_Encoding="gzip")
        elif self.path == "/loop":
            self.plain(302, Location="/loop")
        elif self.path == "/file":
            self.plain(302, Location="file:///etc/passwd")
        elif self.path == "/busy":
            self.plain(429, Retry_After="7200")
        elif self.path == "/broken":
            self.plain(503)
        elif self.path == "/short":  # promises more than it sends
            self.send_response(200)
            self.send_header("Content-Length", "100000")
            self.end_headers()
            self.wfile.write(b"{")
        else:
            self.plain(404)


class Server(http.server.ThreadingHTTPServer):
    daemon_threads = True


def main():
    server = Server(("127.0.0.1", 0), Handler)
    with open(sys.argv[2] + ".new", "w", encoding="ascii") as file:
        file.write(str(server.server_address[1]))
    os.rename(sys.argv[2] + ".new", sys.argv[2])
    server.serve_forever()


main()
