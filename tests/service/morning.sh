#!/bin/sh
# Mornings that leave the house: to a real mail server with STARTTLS and login (Debian's python3-aiosmtpd), to an HTTP server
# (Python's own), to a command. The service dies at ten chosen points; the record makes one morning of it.
. tests/service/lib.sh
python=/usr/bin/python3
"$python" -c 'import aiosmtpd' 2>/dev/null || {
    skip "python3-aiosmtpd is not installed"
    finish
    exit
}
MAKEFLAGS='' MAKELEVEL='' ${MAKE:-make} -s --no-print-directory B="$B" crash-points || {
    same "the build with places to die at" failed made
    finish
    exit 1
}
dying=$(pwd)/$B/crash/dewbelld

# A certificate for localhost, signed by an authority of our own.
tls=$work/tls box=$work/box
mkdir "$tls" "$box"
{
    openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=test-authority -keyout "$tls/ca.key" -out "$tls/ca.pem" &&
        openssl req -newkey rsa:2048 -nodes -subj /CN=localhost -keyout "$tls/key.pem" -out "$tls/request.pem" &&
        printf 'subjectAltName=DNS:localhost,IP:127.0.0.1\n' >"$tls/names" &&
        openssl x509 -req -in "$tls/request.pem" -CA "$tls/ca.pem" -CAkey "$tls/ca.key" -CAcreateserial -days 2 \
            -extfile "$tls/names" -out "$tls/cert.pem"
} >"$work/openssl.log" 2>&1 || cat "$work/openssl.log"

begin "$work/receivers.log" "$python" tests/service/receivers.py "$box" "$tls/cert.pem" "$tls/key.pem"
await 20 test -s "$box/http.port" || cat "$work/receivers.log"
smtp=$(cat "$box/smtp.port") http=$(cat "$box/http.port")

# Whatever the hour of this machine, it is between seven and eight in the morning in a garden of this zone.
shift_hours=$((7 - $(date -u +%H | sed 's/^0//')))
[ $shift_hours -ge -12 ] || shift_hours=$((shift_hours + 24))
if [ $shift_hours -ge 0 ]; then zone=Etc/GMT-$shift_hours; else zone=Etc/GMT+$((-shift_hours)); fi
day=2026-05-12

# A fresh garden with a record of its own; its sections for the service come from standard input.
plot() { # NAME
    mkdir -p "$work/$1"
    readme_plan | sed "s|^zone .*|zone = $zone|; s|^name .*|name = Lärchen \& Söhne <Garten>|; s|^\[bed north\]|&\nname = .north|; s|^sow  = |sown = |" \
        >"$work/$1/garden.ini"
    cat >>"$work/$1/garden.ini"
    printf "a canary's song\nnot this line\n" >"$work/$1/mail-password"
    chmod 600 "$work/$1/mail-password"
    plan=$work/$1/garden.ini state=$work/$1/.dewbell
    rm -f "$box"/mail.* "$box"/post.* "$box/mood"
}

mail_plan() {
    printf '\n[morning]\nat = 07:00\nquiet = a line\n\n[mail me]\nserver = smtp://localhost:%s\nfrom = garden@example.org\n' "$smtp"
    printf 'to = anna@example.org, bert@example.net\nlogin = anna\nsecret_file = mail-password\nca_file = %s/ca.pem\n' "$tls"
}

# live [NAME=VALUE]: the service in the build that can die; its number in $daemon and for the receivers.
live() {
    begin "$work/log" env "$@" "$dying" --rules "$rules" --garden "$plan" --listen "$work/http.sock" --stand-on $day
    daemon=$pid
    echo "$daemon" >"$box/victim"
}

in_state() { # STATE [TRIES]: the record has the mornings there
    "$python" - "$state" "$@" <<'P'
import sqlite3, sys
state, want, tries = sys.argv[1], sys.argv[2], sys.argv[3:]
record = sqlite3.connect("file:%s/record.sqlite?mode=ro" % state, uri=True)
rows = list(record.execute("SELECT state, tries FROM morning"))
sys.exit(not (rows and all(r[0] == want for r in rows) and (not tries or all(str(r[1]) == tries[0] for r in rows))))
P
}

count() { # KIND
    find "$box" -name "$1.*" | wc -l
}

# ---- the letter itself ----
plot letter <<P
$(mail_plan)
P
live
await 20 in_state sent
ok "a morning is sent"
same "one mail" "$(count mail)" 1
"$program" --rules "$rules" --garden "$plan" --date $day today >"$work/today"
"$python" - "$box/mail.0" "$work/today" >"$work/out" 2>&1 <<'P'
import email, email.policy, email.utils, html.parser, re, sys
raw = open(sys.argv[1], "rb").read()
today = open(sys.argv[2], encoding="utf-8").read()
ehlo, sender, to, raw = raw.split(b"\r\n", 3)
assert ehlo == b"EHLO dewbell.invalid", ehlo  # not the name of this machine
assert sender == b"FROM garden@example.org" and to == b"TO anna@example.org bert@example.net"
assert raw.count(b"\n") == raw.count(b"\r\n") == raw.count(b"\r"), "CRLF only"
lines = raw.split(b"\r\n")
assert all(len(l) <= 76 or l.startswith(b"Message-ID:") for l in lines), max(lines, key=len)
assert all(b < 0x80 for b in raw)
mail = email.message_from_bytes(raw, policy=email.policy.default)
assert not mail.defects and not [d for p in mail.walk() for d in p.defects]
assert re.fullmatch(r"Lärchen & Söhne <Garten>: Tuesday 12 May, \d+ jobs?", mail["Subject"]), mail["Subject"]
assert mail["From"].addresses[0].display_name == "Lärchen & Söhne <Garten>"
assert [a.addr_spec for a in mail["To"].addresses] == ["anna@example.org", "bert@example.net"]
assert mail["Auto-Submitted"] == "auto-generated"
assert re.fullmatch(r"<2026-05-12\.mail\.me\.[0-9a-f-]{36}@example\.org>", mail["Message-ID"])
assert email.utils.parsedate_to_datetime(mail["Date"]).strftime("%Y-%m-%d %H") in ("2026-05-12 07", "2026-05-12 08"), mail["Date"]
assert mail.get_content_type() == "multipart/alternative"
plain, rich = mail.iter_parts()
text = plain.get_content().replace("\r\n", "\n")
assert text.startswith(today), (text, today)  # what `dewbell today` says
assert "\n.north:\n" in text, text  # a line that begins with a dot arrives whole
class Page(html.parser.HTMLParser):
    seen, text = [], ""
    def handle_starttag(self, tag, attributes):
        self.seen.append(tag)
        assert tag in "html head meta title body h1 h2 h3 p ul li strong code br".split(), tag
        assert not [a for a in attributes if a[0] in ("src", "href", "style", "onload")]
    def handle_data(self, data):
        self.text += data
page = Page()
page.feed(rich.get_content())
assert "h1" in page.seen and "Lärchen & Söhne <Garten>: Tuesday 12 May 2026" in page.text, page.text
print("read")
P
same "the letter, read by Python's email" "$(tail -n 1 "$work/out")" read
[ "$(tail -n 1 "$work/out")" = read ] || cat "$work/out"
halt
same "asked to end" "$ended_with" 0
grep -r "canary" "$work/log" "$state" >/dev/null
same "the password is in no log and no record" $? 1

# ---- it dies at ten points ----
copies_of_all=0
for at in due before-intended intended before-sending sending handed-over answered settled kill "kill early"; do
    plot "$(echo "$at" | tr ' ' -)" <<P
$(mail_plan)
P
    case $at in
    kill*)
        echo "$at" >"$box/mood"
        live
        ;;
    *) live "DEWBELL_CRASH_AT=$at" ;;
    esac
    await 20 ended "$daemon" || echo "it lives on at $at"
    wait "$daemon" 2>/dev/null
    same "killed at $at" $? 137
    live
    await 30 in_state sent
    ok "sent after it died at $at"
    halt
    live # once more: nothing is left to do
    await 20 grep -q 'feeds are served' "$work/log"
    await 20 "$program" --garden "$plan" status
    await 20 in_state sent
    halt
    # Between the server's 250 and our commit nobody can know: the second copy bears the same Message-ID.
    case $at in
    answered | kill) expected=2 ;;
    *) expected=1 ;;
    esac
    same "mails after it died at $at" "$(count mail)" $expected
    same "kinds of mails after it died at $at" "$(cat "$box"/mail.* | grep -a '^Message-ID:' | sort -u | wc -l)" 1
    copies_of_all=$((copies_of_all + $(count mail)))
done
same "mails over all ten, with the two that mail cannot help" $copies_of_all 12

# ---- the server's moods ----
plot twice-busy <<P
$(mail_plan)
P
printf '451\n451\n' >"$box/mood"
live
await 30 in_state sent 3
ok "sent at the third try"
halt
same "one mail after 451 twice" "$(count mail)" 1
says log 'not sent, will be tried again.*(451)'

plot refused <<P
$(mail_plan)
P
echo 550 >"$box/mood"
live
await 20 in_state failed 1
ok "550 is not tried again"
halt
same "no mail after 550" "$(count mail)" 0
says log 'refused, not tried again.*(550)'

plot cut <<P
$(mail_plan)
P
echo cut >"$box/mood"
live
await 30 in_state sent 2
ok "cut after the last dot: sent again"
halt
same "a second copy" "$(count mail)" 2
same "with the same mark" "$(cat "$box"/mail.* | grep -a '^Message-ID:' | sort -u | wc -l)" 1
says log 'may have arrived; sent again with the same mark'

plot wrong-login <<P
$(mail_plan)
P
echo wrong >"$work/wrong-login/mail-password"
live
await 20 in_state failed 1
ok "a wrong password is not tried again"
run 0 --garden "$plan" status
says out '^  morning  *mail me, .*: failed' '^    given up: .*[Ll]ogin'
halt
same "no mail without a login" "$(count mail)" 0

# ---- a post ----
plot post <<P

[morning]
at = 07:00
quiet = a line

[post hall]
url = http://127.0.0.1:$http/in?garden=1
format = json
secret_file = mail-password

[post board]
url = http://127.0.0.1:$http/board
P
printf '503\n429\n' >"$box/mood"
live
await 30 in_state sent 2
ok "posted at the second try"
halt
"$python" - "$box" >"$work/out" 2>&1 <<'P'
import email, glob, json, sys
got = [open(f, "rb").read().split(b"\n--\n", 1) for f in sorted(glob.glob(sys.argv[1] + "/post.*"))]
heads = [email.message_from_bytes(h) for h, b in got]
assert len(got) == 4, len(got)
hall = [(h, b) for h, (_, b) in zip(heads, got) if h["Content-Type"] == "application/json"]
board = [(h, b) for h, (_, b) in zip(heads, got) if h["Content-Type"] == "text/plain; charset=utf-8"]
assert len(hall) == len(board) == 2
for two in hall, board:
    assert two[0][0]["Idempotency-Key"] == two[1][0]["Idempotency-Key"] and two[0][1] == two[1][1]
assert hall[0][0]["Idempotency-Key"].startswith('"2026-05-12.post.hall.')
assert hall[0][0]["Authorization"] == "Bearer a canary's song" and not board[0][0]["Authorization"]
told = json.loads(hall[0][1])
assert set(told) == {"garden", "date", "subject", "text", "fetch", "jobs"} and told["date"] == "2026-05-12"
listed = "To fetch: " + "; ".join(told["fetch"]) + "."
assert (listed in " ".join(told["text"].split())) if told["fetch"] else ("To fetch" not in told["text"]), told
assert told["text"] == board[0][1].decode() and told["garden"] == "Lärchen & Söhne <Garten>"
assert told["jobs"] and all(j["state"] == "open" for j in told["jobs"])
print("read")
P
same "the posts" "$(tail -n 1 "$work/out")" read
[ "$(tail -n 1 "$work/out")" = read ] || cat "$work/out"

plot post-refused <<P

[morning]
at = 07:00
quiet = a line

[post hall]
url = http://127.0.0.1:$http/in
P
echo 404 >"$box/mood"
live
await 20 in_state failed 1
ok "404 is not tried again"
halt
same "one request for 404" "$(count post)" 1

# ---- a command ----
cat >"$work/tell" <<P
#!$python
import json, os, sys
text = sys.stdin.read()
if sys.argv[1] == "fail":
    print("there is no voice\\nto speak\x1b[2J with\u0085", file=sys.stderr)
    sys.exit(3)
json.dump({"text": text, "words": sys.argv[1:], "names": dict(os.environ), "own group": os.getpgid(0) == os.getpid(),
           "folder": os.getcwd(), "open": sorted(os.listdir("/proc/self/fd"))}, open("$work/told.new", "w"))
os.rename("$work/told.new", "$work/told")
P
chmod 755 "$work/tell"
plot command <<P

[morning]
at = 07:00
quiet = a line

[command aloud]
run = $work/tell slowly "in the garden" '\$HOME; exit'
P
live SECRET_OF_THE_SERVICE=canary
await 20 in_state sent 1
ok "told"
halt
"$python" - "$work/told" "$work/today" >"$work/out" 2>&1 <<'P'
import json, sys
told = json.load(open(sys.argv[1]))
assert told["text"].startswith(open(sys.argv[2]).read()), told["text"]
assert told["words"] == ["slowly", "in the garden", "$HOME; exit"], told["words"]
assert told["names"] == {"PATH": "/usr/local/bin:/usr/bin:/bin", "LANG": "C.UTF-8", "DEWBELL_DATE": "2026-05-12",
                         "DEWBELL_GARDEN": "Lärchen & Söhne <Garten>"}, told["names"]
assert told["own group"] and told["folder"] == "/"
assert told["open"] == ["0", "1", "2", "3"], told["open"]  # in, out, error, and the one that lists them
print("read")
P
same "what the command was told" "$(tail -n 1 "$work/out")" read
[ "$(tail -n 1 "$work/out")" = read ] || cat "$work/out"

plot command-fails <<P

[morning]
at = 07:00
quiet = a line

[command aloud]
run = $work/tell fail

[command nowhere]
run = $work/no-such-program
P
live
await 30 grep -q 'cannot be run' "$work/log"
await 30 grep -q 'status 3' "$work/log"
says log 'status 3: there is no voice to speak' 'no-such-program cannot be run: No such file'
run 0 --garden "$plan" status
says out '^    the last try failed: the command ended with status 3: there is no voice to speak' 'last try failed: .*cannot be run'
same "nothing for a terminal to obey" "$(grep 'last try failed' "$work/out" | tr -d '\n\040-\176' | wc -c)" 0
same "no zombies" "$(ps -o stat= --ppid "$daemon" | grep -c Z)" 0
halt

finish
