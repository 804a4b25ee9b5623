#!/usr/bin/env python3
"""A weather server that answers by a script, on loopback only.

weather_server.py FOLDER BODY: prints its port and serves until standard input ends. FOLDER/script has one line an answer, the
last one for ever: a status, then "Name: value" headers between " | ", or "close" to hang up. A 200 carries the file BODY, or
what stands after "Body: ".
Each request becomes a line of FOLDER/asked: its path and its headers as JSON.
"""

import http.server
import json
import os
import sys
import threading

FOLDER, BODY = sys.argv[1], sys.argv[2]
asked = 0


def answer():
    global asked
    with open(os.path.join(FOLDER, "script"), encoding="utf-8") as file:
        lines = file.read().splitlines()
    line = lines[min(asked, len(lines) - 1)]
    asked += 1
    return line


class Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    timeout = 30

    def log_message(self, *_):
        pass

    def do_GET(self):
        self.close_connection = True
        with open(os.path.join(FOLDER, "asked"), "a", encoding="utf-8") as file:
            file.write(json.dumps({"path": self.path, **{k.lower(): v for k, v in self.headers.items()}}) + "\n")
        line = answer()
        if line == "close":
            return
        status, *headers = line.split(" | ")
        body = b""
        if status == "200":
            with open(BODY, "rb") as file:
                body = file.read()
        self.send_response(int(status))
        for header in headers:
            name, value = header.split(": ", 1)
            if name == "Body":
                body = value.encode()
                continue
            self.send_header(name, value)
        if status != "304":
            self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


def main():
    server = http.server.HTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    print(server.server_address[1], flush=True)
    sys.stdin.read()


main()
