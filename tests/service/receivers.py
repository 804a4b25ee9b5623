"""What mornings are sent to in tests: a mail server with STARTTLS and login, and an HTTP server.

receivers.py FOLDER CERTIFICATE KEY: writes FOLDER/smtp.port and FOLDER/http.port when it listens; keeps each mail that it
took as FOLDER/mail.N and each request as FOLDER/post.N. The next line of FOLDER/mood says how the next mail or request is
answered: a status; "cut" (taken, then the connection ends without an answer); "kill" (taken, then the process of
FOLDER/victim is killed); "kill early" (killed at the greeting). No line left: taken.
"""
import http.server
import os
import signal
import ssl
import sys
import threading

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword

folder, certificate, key = sys.argv[1:]
lock = threading.Lock()


def mood(peek=False):
    path = os.path.join(folder, "mood")
    try:
        with open(path) as file:
            lines = file.read().splitlines()
    except OSError:
        return ""
    if not lines:
        return ""
    if not peek:
        with open(path + ".new", "w") as file:
            file.write("".join(line + "\n" for line in lines[1:]))
        os.rename(path + ".new", path)
    return lines[0]


def kill():
    with open(os.path.join(folder, "victim")) as file:
        os.kill(int(file.read()), signal.SIGKILL)


def keep(kind, content):
    number = sum(name.startswith(kind + ".") for name in os.listdir(folder))
    path = os.path.join(folder, "%s.%d" % (kind, number))
    with open(os.path.join(folder, "new"), "wb") as file:
        file.write(content)
    os.rename(os.path.join(folder, "new"), path)


class Mail:
    async def handle_EHLO(self, server, session, envelope, hostname, responses):
        with lock:
            if mood(peek=True) == "kill early":
                mood()
                kill()
        session.host_name = hostname
        return responses

    async def handle_DATA(self, server, session, envelope):
        with lock:
            what = mood()
            if what.isdigit():
                return what + " as the test wants it"
            if not session.authenticated:
                return "530 log in first"
            head = "EHLO %s\r\nFROM %s\r\nTO %s\r\n" % (session.host_name, envelope.mail_from, " ".join(envelope.rcpt_tos))
            keep("mail", head.encode() + envelope.original_content)
            if what == "kill":
                kill()
            if what in ("cut", "kill"):
                server.transport.abort()
            return "250 taken"


def authenticate(server, session, envelope, mechanism, data):
    good = isinstance(data, LoginPassword) and (data.login, data.password) == (b"anna", b"a canary's song")
    return AuthResult(success=good, handled=False)


class Post(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        with lock:
            what = mood()
            keep("post", str(self.headers).encode() + b"--\n" + body)
        self.send_response(int(what) if what.isdigit() else 204)
        if what == "503":
            self.send_header("Retry-After", "1")
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_):
        pass


context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain(certificate, key)
mail = Controller(Mail(), hostname="127.0.0.1", port=0, tls_context=context, require_starttls=True,
                  auth_required=True, authenticator=authenticate, decode_data=False)
# The controller probes the port that it was given: with 0 we let the system choose and start the parts ourselves.
import socket
free = socket.socket()
free.bind(("127.0.0.1", 0))
mail.port = free.getsockname()[1]
free.close()
mail.start()
post = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Post)
for name, port in (("smtp", mail.port), ("http", post.server_port)):
    with open(os.path.join(folder, name + ".new"), "w") as file:
        file.write(str(port))
    os.rename(os.path.join(folder, name + ".new"), os.path.join(folder, name + ".port"))
post.serve_forever()
