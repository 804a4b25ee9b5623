#!/bin/sh
# What a service manager sees: the messages of sd_notify(3), the watchdog, a socket handed over by systemd's own
# systemd-socket-activate, and that every system call of a day's work is one that our unit's filter lets through.
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini

# A manager that listens to sd_notify: a datagram socket that keeps what it is told, a line each.
cat >"$work/manager.py" <<'P'
import os, socket, sys
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind(sys.argv[1])
print("listening", flush=True)
while True:
    print(s.recv(4096).decode().replace("\n", " "), flush=True)
P
begin "$work/told" /usr/bin/python3 "$work/manager.py" "$work/notify"
await 10 grep -q listening "$work/told"
ok "a manager listens"
NOTIFY_SOCKET=$work/notify WATCHDOG_USEC=400000 serve --garden "$plan" --listen 127.0.0.1:0
await 20 grep -q 'READY=1 STATUS=' "$work/told"
ok "it says when it is ready"
beaten() { # at least three beats
    [ "$(grep -c '^WATCHDOG=1' "$work/told")" -ge 3 ]
}
await 10 beaten
ok "it beats for the watchdog"
run 0 --garden "$plan" status
says out "tell the watchdog that we live"
kill -HUP "$daemon"
reloaded() {
    grep -q '^RELOADING=1 MONOTONIC_USEC=[0-9]*$' "$work/told" && [ "$(grep -c READY=1 "$work/told")" -ge 2 ]
}
await 10 reloaded
ok "a reload is told"
kill -STOP "$daemon"
beats=$(grep -c '^WATCHDOG=1' "$work/told")
kill -CONT "$daemon"
await 10 eval "[ \"\$(grep -c '^WATCHDOG=1' '$work/told')\" -gt $beats ]"
ok "it beats again after it was stopped"
halt
same "exit status" "$ended_with" 0
await 5 grep -q '^STOPPING=1' "$work/told"
ok "it says that it stops"

# A socket that is there before the service is.
if command -v systemd-socket-activate >/dev/null; then
    port=$(/usr/bin/python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
    begin "$work/log" systemd-socket-activate -l "127.0.0.1:$port" "$daemon_program" --rules "$rules" --garden "$plan"
    daemon=$pid
    token=$("$program" --rules "$rules" --garden "$plan" token | sed -n 's|.*/f/\([^/]*\)/jobs.ics|\1|p')
    # The first request starts it; it is answered once there is a feed.
    answered() {
        [ "$(curl -s -m 20 -o /dev/null -w '%{http_code}' "http://127.0.0.1:$port/f/$token/jobs.ics")" = 200 ]
    }
    await 20 answered
    ok "it serves at the socket handed over"
    grep -q "the socket that was handed over" "$work/log"
    ok "and says so"
    halt
    same "exit status" "$ended_with" 0
else
    skip "systemd-socket-activate is not here"
fi

# The calls of a day's work, a morning by a command and a reload among them, against the filter of the unit.
if command -v strace >/dev/null && command -v systemd-analyze >/dev/null &&
    strace -o "$work/probe" true 2>/dev/null; then
    cat >>"$plan" <<END

[morning]
at    = 07:00
quiet = a line

[command keep]
run = /usr/bin/tee $work/morning.txt
END
    begin "$work/log" strace -f -qq -o "$work/calls" "$daemon_program" --rules "$rules" --garden "$plan" --listen 127.0.0.1:0 \
        --metrics 127.0.0.1:0 --stand-on 2026-04-20T07:00
    tracer=$pid
    await 60 test -s "$work/morning.txt"
    ok "a morning under strace"
    port=$(sed -n 's/.*feeds are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
    metrics=$(sed -n 's/.*metrics are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
    token=$("$program" --rules "$rules" --garden "$plan" token | sed -n 's|.*/f/\([^/]*\)/jobs.ics|\1|p')
    curl -sf -m 20 -o /dev/null "http://127.0.0.1:$port/f/$token/jobs.ics" && curl -sf -m 20 -o /dev/null "http://127.0.0.1:$metrics/metrics"
    ok "a feed and metrics under strace"
    run 0 --garden "$plan" status
    touch "$plan"
    kill -TERM "$(sed -n '1s/ .*//p' "$work/calls")"
    wait "$tracer"
    same "exit status" $? 0
    # A set names other sets and calls; what is taken away after that is gone.
    /usr/bin/python3 - "$work/calls" contrib/systemd/dewbelld.service >"$work/out" 2>&1 <<'P'
import os, re, subprocess, sys
sets, current = {}, None
for line in subprocess.run(["systemd-analyze", "syscall-filter", "--no-pager"], capture_output=True, text=True).stdout.splitlines():
    line = re.sub(r"\x1b\[[0-9;]*m", "", line)
    if line.startswith("@"):
        current = sets.setdefault(line.strip(), [])
    elif line.strip() and not line.strip().startswith("#") and current is not None:
        current.append(line.strip())
def calls(name):
    if not name.startswith("@"):
        return {name}
    return set().union(*(calls(part) for part in sets[name]))
allowed = set()
for line in open(sys.argv[2], encoding="utf-8"):
    if line.startswith("SystemCallFilter="):
        value = line.split("=", 1)[1].strip()
        taken = value.startswith("~")
        for name in value.lstrip("~").split():
            allowed = allowed - calls(name) if taken else allowed | calls(name)
assert len(allowed) > 200, len(allowed)
made = {}
for line in open(sys.argv[1], encoding="utf-8", errors="replace"):
    call = re.match(r"\d+ +([a-z_0-9]+)\(", line)
    if call:
        made.setdefault(call[1], line.strip())
assert {"epoll_wait", "timerfd_settime", "sendto", "execve", "fsync"} & set(made), sorted(made)
if os.geteuid() == 0: # SQLite gives its files the database's owner, as root only
    made.pop("fchown", None)
for name in sorted(set(made) - allowed):
    print(made[name])
P
    same "calls outside the unit's filter" "$(cat "$work/out")" ""
else
    skip "strace or systemd-analyze is not here, or may not trace"
fi
finish
