#!/bin/sh
# What systemd is told (sd_notify(3)), and the sockets it hands over (sd_listen_fds(3)): a datagram socket stands in for the
# manager, systemd-socket-activate for its socket unit.
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini

cat >"$work/manager.py" <<'P'
# Binds the socket that NOTIFY_SOCKET names and writes down each message, a line each.
import os, socket, sys
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind(sys.argv[1])
with open(sys.argv[2], "a", buffering=1) as out:
    while True:
        out.write(s.recv(4096).decode().replace("\n", " ") + "\n")
P
begin "$work/manager.log" /usr/bin/python3 "$work/manager.py" "$work/notify" "$work/told"
await 10 test -S "$work/notify"
told() { # PATTERN
    grep -q -- "$1" "$work/told"
}

begin "$work/log" env NOTIFY_SOCKET="$work/notify" WATCHDOG_USEC=600000 \
    "$daemon_program" --rules "$rules" --garden "$plan" --listen 127.0.0.1:0
daemon=$pid
await 20 told '^READY=1 STATUS='
ok "READY"
twice() {
    [ "$(grep -c WATCHDOG=1 "$work/told")" -ge 2 ]
}
await 20 twice
ok "the watchdog's beat"
kill -HUP "$daemon"
await 20 told '^RELOADING=1 MONOTONIC_USEC=[0-9]'
ok "RELOADING"
again() {
    [ "$(grep -c '^READY=1' "$work/told")" -ge 2 ]
}
await 20 again
ok "READY after it"
halt
same "exit status" "$ended_with" 0
await 10 told STOPPING=1
ok "STOPPING"
# Without a watchdog nothing beats: its timer is not among those that are set.
begin "$work/log" env NOTIFY_SOCKET="$work/notify" "$daemon_program" --rules "$rules" --garden "$plan" --listen 127.0.0.1:0
daemon=$pid
await 20 "$program" --garden "$plan" status
"$program" --garden "$plan" status >"$work/out"
grep -q watchdog "$work/out"
same "no beat unasked" $? 1
halt

# A prefix for the journal only where it reads.
grep -q '^dewbelld: ' "$work/log"
ok "plain lines for a file"
begin "$work/log.journal" sh -c 'JOURNAL_STREAM=$(stat -L -c %d:%i /dev/fd/2) exec "$@"' sh \
    "$daemon_program" --rules "$rules" --garden "$plan" --listen 127.0.0.1:0
daemon=$pid
await 20 grep -q '^<6>feeds are served' "$work/log.journal"
ok "levels for the journal"
halt

# A socket that listens before the service runs: the first caller waits, and is answered.
if command -v systemd-socket-activate >/dev/null; then
    run 0 --garden "$plan" token
    token=$(sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics.*|\1|p' "$work/out" | head -n 1)
    port=$(/usr/bin/python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
    rm -f "$work/log"
    begin "$work/log" systemd-socket-activate -l "127.0.0.1:$port" "$daemon_program" --rules "$rules" --garden "$plan"
    daemon=$pid
    await 20 grep -q Listening "$work/log"
    code=$(curl -s -m 20 -o "$work/jobs.ics" -w '%{http_code}' "http://127.0.0.1:$port/f/$token/jobs.ics")
    same "the caller who woke it" "$code" 200
    grep -q 'the socket that was handed over' "$work/log"
    ok "it says where it serves"
    halt
    same "exit status" "$ended_with" 0
else
    skip "systemd-socket-activate is not here"
fi
finish
