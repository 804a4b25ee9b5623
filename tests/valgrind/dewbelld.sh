#!/bin/sh
# dewbelld under valgrind: the demo garden with a forecast that it fetches, a morning that is posted, readers, a plan that is
# broken and mended under it, and the end by SIGTERM. (A morning by a command needs pidfd_open, which Debian's valgrind does
# not know.)
. tests/valgrind/lib.sh
here=$(pwd)
plan=$work/garden/garden.ini
mkdir "$work/garden"
cp -R contrib/demo/beds.ini contrib/demo/days.ini contrib/demo/sowings contrib/demo/sources "$work/garden/"

begin "$work/forecast.log" /usr/bin/python3 contrib/demo/forecast_server.py tests/data/seattle-weather.csv 2015-06-26T07:00 \
    America/Los_Angeles "$work/port"
await 20 test -s "$work/port"
cat >"$work/hall.py" <<'P'
import http.server, os, sys

class Hall(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        words = self.rfile.read(int(self.headers["Content-Length"]))
        open(sys.argv[1] + "/morning.new", "wb").write(words)
        os.rename(sys.argv[1] + "/morning.new", sys.argv[1] + "/morning.txt")
        self.send_response(204)
        self.end_headers()

server = http.server.HTTPServer(("127.0.0.1", 0), Hall)
open(sys.argv[1] + "/hall.new", "w").write(str(server.server_port))
os.rename(sys.argv[1] + "/hall.new", sys.argv[1] + "/hall.port")
server.serve_forever()
P
begin "$work/hall.log" /usr/bin/python3 "$work/hall.py" "$work"
await 20 test -s "$work/hall.port"
{
    sed -e '/^record_ahead/d' -e "s|\.\./\.\./tests/data|$here/tests/data|" contrib/demo/garden.ini
    cat <<END

[forecast]
source  = recorded
sources = sources
url     = http://127.0.0.1:$(cat "$work/port")/forecast

[morning]
at    = 07:00
quiet = a line

[post hall]
url = http://127.0.0.1:$(cat "$work/hall.port")/board
END
} >"$plan"

serve --garden "$plan" --stand-on 2015-06-26T07:00 --listen 127.0.0.1:0 --log-requests
await 60 grep -q 'feeds are served at' "$work/log"
ok "it serves"
ask() {
    "$bare_program" --rules "$rules" --garden "$plan" "$@"
}
has_all() { # the feeds, worked out with the forecast
    ask --json status | grep -q '"source": "' && ask --json status | grep -q '"feed": "tasks"'
}
await 120 has_all
ok "with a forecast"
await 120 test -s "$work/morning.txt"
ok "the morning came"

base=http://$(sed -n 's/.*feeds are served at \([0-9.:]*\).*/\1/p' "$work/log")
ask --base "$base" token >"$work/addresses"
for address in $(grep -o 'http://[^ ]*\.ics' "$work/addresses"); do
    curl -sS --fail --compressed -m 60 -D "$work/head" -o "$work/feed.ics" "$address" && tail -n 1 "$work/feed.ics" | grep -q '^END:VCALENDAR'
    ok "${address##*/}"
    etag=$(sed -n 's/^[Ee][Tt]ag: *\(.*\)\r$/\1/p' "$work/head")
    same "asked again" "$(curl -sS -m 60 -o /dev/null --compressed -w '%{http_code}' -H "If-None-Match: $etag" "$address")" 304
done
same "an address that is none" "$(curl -sS -m 60 -o /dev/null -w '%{http_code}' "$base/f/none/jobs.ics")" 404

cp "$plan" "$work/good.ini"
sed 's/^latitude .*/lattitude = 47/' "$work/good.ini" >"$plan.new" && mv "$plan.new" "$plan"
await 60 grep -q 'did you mean "latitude"' "$work/log"
ok "a broken plan is told"
reads=$(grep -c ': read: ' "$work/log")
mv "$work/good.ini" "$plan"
kill -HUP "$daemon"
read_again() {
    [ "$(grep -c ': read: ' "$work/log")" -gt "$reads" ]
}
await 60 read_again
ok "the mended one is read"
halt
same "it ends as asked" "$ended_with" 0
nothing_found
finish
