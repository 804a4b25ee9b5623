#!/bin/sh
# How the service tells of itself: the socket in the state folder, dewbell status, metrics. The metrics are read by
# the OpenMetrics parser of the Prometheus project's Python client (Debian's python3-prometheus-client).
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini state=$work/plot/.dewbell

# No service: said plainly, exit status 1, also where one was killed and left its socket.
run 1 --garden "$plan" status
says err "no service looks after this garden" "Start one with dewbelld"
run 1 --state "$work/nowhere" status

# What `dewbell status --json` says under a path into the document.
field() { # EXPRESSION over d
    "$program" --garden "$plan" --json status 2>/dev/null | /usr/bin/python3 -c "import json,sys; d=json.load(sys.stdin); print($1)"
}
worked_out() {
    [ "$(field 'd["gardens"][0]["evaluated"] is not None and len(d["gardens"][0]["feeds"]) == 3')" = True ]
}

serve --garden "$plan" --listen 127.0.0.1:0 --metrics 127.0.0.1:0 --stand-on 2026-04-20
await 20 worked_out
ok "the service answers and has worked"
run 0 --garden "$plan" status
says out "^dewbelld .* runs since " "^Lark Bank" "worked out .* jobs open" "feed .*jobs.ics: " "files *in order" "^Next"
same "mode of the socket" "$(stat -c %a "$state/status.sock")" 600
same "it names the day in the garden's zone" "$(field 'd["gardens"][0]["today"]')" 2026-04-20
same "entries counted as the feed has them" "$(field '[f["events"] for f in d["gardens"][0]["feeds"]]')" \
    "$(/usr/bin/python3 - "$state" <<'P'
import sqlite3, sys
file = sqlite3.connect(f"file:{sys.argv[1]}/record.sqlite?mode=ro", uri=True)
print([sum(bytes(row[0]).count(b) for b in (b"BEGIN:VEVENT\r\n", b"BEGIN:VTODO\r\n"))
       for name in ("jobs", "mornings", "tasks")
       for row in file.execute("SELECT bytes FROM served WHERE feed = ?", (name,))])
P
)"
same "next wake-ups are ordered and to come" "$(field 'bool(d["next"]) and [n["at"] for n in d["next"]] == sorted(n["at"] for n in d["next"]) and d["next"][0]["at"] >= d["now"]')" True

# A second service for the same garden is refused.
"$daemon_program" --rules "$rules" --garden "$plan" --listen 127.0.0.1:0 >"$work/second" 2>&1 </dev/null
same "a second service ends with" $? 3
grep -q "another dewbelld looks after the garden" "$work/second"
ok "it says why"
run 0 --garden "$plan" status

# Readers that do not read and callers that never stop do not hold it up.
/usr/bin/python3 - "$state/status.sock" <<'P'
import json, socket, sys
def caller():
    s = socket.socket(socket.AF_UNIX)
    s.connect(sys.argv[1])
    s.settimeout(10)
    return s
def whole(s):
    text = b""
    while part := s.recv(65536):
        text += part
    return json.loads(text)
idle = [caller() for _ in range(50)]
for s in idle:
    s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)
try:
    idle[0].sendall(b"GET / HTTP/1.1\r\n\r\n")
except BrokenPipeError: # it has said all and hung up
    pass
assert whole(caller())["gardens"][0]["name"] == "Lark Bank"
P
ok "fifty idle callers"

# Metrics, read by another's parser. The port is the one that the kernel gave.
metrics=$(sed -n 's/.*metrics.*127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/log" | head -n 1)
curl -sf -m 10 -D "$work/head" "http://127.0.0.1:$metrics/metrics" >"$work/metrics"
ok "metrics are served"
grep -qi '^content-type: application/openmetrics-text; version=1.0.0; charset=utf-8' "$work/head"
ok "their type"
/usr/bin/python3 - "$work/metrics" >"$work/out" 2>&1 <<'P'
import sys
from prometheus_client.openmetrics.parser import text_string_to_metric_families
text = open(sys.argv[1], encoding="utf-8").read()
families = {f.name: f for f in text_string_to_metric_families(text)}
def one(name, **labels):
    found = [s.value for f in families.values() for s in f.samples
             if s.name == name and labels.items() <= s.labels.items()]
    assert len(found) == 1, (name, labels, found)
    return found[0]
assert one("dewbell_gardens") == 1
assert one("dewbell_mistakes", garden="Lark Bank") == 0
assert one("dewbell_jobs", state="open") > 0
assert one("dewbell_wakes_total") > 0
assert one("dewbell_http_answers_total", kind="full") == 0
assert one("dewbell_feed_size_bytes", feed="jobs.ics") > 1000
assert one("process_resident_memory_bytes") > 1e6
for f in families.values():
    assert f.documentation, f.name
    assert not f.unit or f.name.endswith("_" + f.unit), f.name
P
same "the OpenMetrics parser takes it" "$? $(cat "$work/out")" "0 "
same "another path" "$(curl -s -m 10 -o /dev/null -w '%{http_code}' "http://127.0.0.1:$metrics/")" 404
same "another method" "$(curl -s -m 10 -o /dev/null -w '%{http_code}' -X POST -d x "http://127.0.0.1:$metrics/metrics")" 405
same "HEAD" "$(curl -s -m 10 -I -o /dev/null -w '%{http_code}' "http://127.0.0.1:$metrics/metrics")" 200

# A mistake comes up in the status, with its place, and the last good plan stays.
before=$(field 'd["gardens"][0]["feeds"][0]["etag"]')
sed 's/^crop *= carrot$/crop = carrrot/' "$plan" >"$plan.new" && mv "$plan.new" "$plan"
mistaken() {
    [ "$(field 'd["gardens"][0]["mistake_count"]')" = 1 ]
}
await 20 mistaken
ok "a mistake is told"
run 0 --garden "$plan" status
says out "files *1 mistake; the last good plan stays in force" "garden.ini:[0-9]*:[0-9]*: .*carrrot"
curl -sf -m 10 "http://127.0.0.1:$metrics/metrics" | grep -q '^dewbell_mistakes{garden="Lark Bank"} 1$'
ok "and in the metrics"
[ -n "$before" ] && [ "$(field 'len(d["gardens"][0]["feeds"])')" = 3 ]
ok "feeds stand"

# It ends when asked to and takes its socket along; killed, it leaves the socket, which the next one replaces.
halt
same "exit status" "$ended_with" 0
[ ! -e "$state/status.sock" ]
ok "the socket is gone"
readme_plan >"$plan"
serve --garden "$plan" --listen 127.0.0.1:0
await 20 worked_out
halt KILL
[ -S "$state/status.sock" ]
ok "a killed service leaves its socket"
run 1 --garden "$plan" status
serve --garden "$plan" --listen 127.0.0.1:0
await 20 worked_out
ok "the next one answers there"
halt

# A state folder whose path is longer than an address of a socket may be.
long=$work/$(printf '%0120d' 0)
mkdir "$long"
serve --garden "$plan" --state "$long" --listen 127.0.0.1:0
await 20 "$program" --state "$long" status
ok "a long path"
halt

# No way to listen: said with the address.
"$daemon_program" --rules "$rules" --garden "$plan" --metrics garden.example:9464 >"$work/out" 2>&1 </dev/null
same "a name is no address" $? 64
says out "garden.example:9464"
finish
