#!/bin/sh
# Feeds fetched without a pause while they are made anew without a pause: every body is whole, is what its tag says and has one
# date; the service counts each answer and each byte, and holds no more memory and no more files at the end than after the first
# hundreds. FETCHES (10000) says how many.
. tests/service/lib.sh
fetches=${FETCHES:-10000}

# The demo's garden on a day in June: feeds of some 150 KB.
mkdir -p "$work/tree/contrib" "$work/tree/tests"
cp -r contrib/demo "$work/tree/contrib/"
cp -r tests/data "$work/tree/tests/"
plan=$work/tree/contrib/demo/garden.ini
sowings=$work/tree/contrib/demo/sowings/summer.ini
secret=$("$program" --rules "$rules" --garden "$plan" token | sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics$|\1|p')
serve --garden "$plan" --stand-on 2015-06-27 --listen 127.0.0.1:0 --metrics 127.0.0.1:0
await 20 grep -q 'metrics are served at' "$work/log"
ok "it says where it serves"
port=$(sed -n 's/.*feeds are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
metrics=$(sed -n 's/.*metrics are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
await 20 grep -q ': read: ' "$work/log"
ok "it has read the plan"

# A sowing is moved there and back; each time the service has read it before it is moved again.
readings() {
    grep -c ': read: ' "$work/log"
}
one_more() {
    [ "$(readings)" -gt "$seen_readings" ]
}
move() { # FROM TO, as an editor saves it
    seen_readings=$(readings)
    sed "s/^\(sow  *= \)$1/\1$2/" "$sowings" >"$sowings.new" && mv "$sowings.new" "$sowings"
    await 20 one_more || echo "a change was not read"
}
(
    while [ ! -e "$work/enough" ]; do
        move 2015-06-29 2015-07-02
        move 2015-07-02 2015-06-29
    done
) >"$work/writer" 2>&1 &
writer=$!

said=$work/said /usr/bin/python3 - "$port" "$secret" "$metrics" "$daemon" "$fetches" >"$work/out" 2>&1 <<'P'
import gzip, hashlib, http.client, os, sys, time, urllib.request
import icalendar
port, secret, metrics, daemon, fetches = int(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4], int(sys.argv[5])
warm = min(500, fetches // 4) # fetches after which the service has its size

def counted():
    text = urllib.request.urlopen(f"http://127.0.0.1:{metrics}/metrics", timeout=20).read().decode()
    found = dict(line.rsplit(" ", 1) for line in text.splitlines() if not line.startswith("#"))
    return {name: int(float(found["dewbell_http_" + name])) for name in
            ['answers_total{kind="%s"}' % kind for kind in ("full", "unchanged", "unknown", "revoked", "refused")] +
            ["sent_bytes_total", "connections"]}
def held():
    kib = [int(line.split()[1]) for line in open(f"/proc/{daemon}/status") if line.startswith("VmRSS")][0]
    return kib, len(os.listdir(f"/proc/{daemon}/fd"))

before = counted()
c = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
wrong, fetched, sent, dates, texts, parsed, half = 0, 0, 0, {}, set(), set(), None
MOST = 40 # versions that are read by icalendar, which takes far longer than all else; of the others each line is looked at
begun = time.monotonic()
while fetched < fetches or (len(texts) < 4 and time.monotonic() < begun + 60):
    packed, feed = fetched % 3 == 0, ("jobs", "mornings", "tasks")[fetched % 5 % 3]
    c.request("GET", f"/f/{secret}/{feed}.ics", headers={"Accept-Encoding": "gzip"} if packed else {})
    answer = c.getresponse()
    body, tag, date = answer.read(), answer.headers["ETag"], answer.headers["Last-Modified"]
    fetched, sent = fetched + 1, sent + len(body)
    # "first 128 bits of SHA-256 of the bytes", and one date for the same bytes
    whole = (answer.status == 200 and tag == '"' + hashlib.sha256(body).hexdigest()[:32] + '"'
             and int(answer.headers["Content-Length"]) == len(body) and dates.setdefault(tag, date) == date)
    if whole and (tag, packed) not in parsed:
        parsed.add((tag, packed))
        text = gzip.decompress(body) if packed else body
        lines, version = text.split(b"\r\n"), hashlib.sha256(text).digest()
        whole = (lines[0] == b"BEGIN:VCALENDAR" and lines[-2:] == [b"END:VCALENDAR", b""] and text.count(b"BEGIN:V") > 1
                 and text.count(b"\nBEGIN:") == text.count(b"\nEND:") - 1 and max(map(len, lines)) <= 75 and b"\n" not in b"".join(lines))
        if whole and version not in texts and len(texts) < MOST:
            events = icalendar.Calendar.from_ical(text).walk()
            whole = len(events) > 1 and not any(part.errors for part in events)
        texts.add(version)
    wrong += not whole
    if fetched == warm:
        half = held()
c.close()
now, end = counted(), held()
rise = {name: now[name] - before[name] for name in now}
print(wrong, "wrong")
print("versions", "many" if len(texts) >= 4 else len(texts))
print("answers", rise['answers_total{kind="full"}'] - fetched, "others",
      sum(rise['answers_total{kind="%s"}' % kind] for kind in ("unchanged", "unknown", "revoked", "refused")),
      "bytes", rise["sent_bytes_total"] - sent)
print("memory", "kept" if end[0] <= half[0] * 5 // 4 else (half, end), "files", "kept" if end[1] <= half[1] + 4 else (half, end))
print(f"{fetched} fetches of {len(texts)} versions in {time.monotonic() - begun:.0f} s; {half[0]} KiB and {half[1]} files "
      f"after {warm}, {end[0]} KiB and {end[1]} files at the end", file=open(os.environ["said"], "w"))
P
touch "$work/enough"
wait "$writer"
same "fetches while the feeds are made anew" "$(cat "$work/out")" "0 wrong
versions many
answers 0 others 0 bytes 0
memory kept files kept"
same "every change was read" "$(cat "$work/writer")" ""
cat "$work/said" 2>/dev/null
halt
same "it ends well" "$ended_with" 0
finish
