#!/bin/sh
# The feeds over HTTP as clients ask for them: curl walks through what RFC 9110 knows of GET, HEAD, conditions and codings;
# wrong, revoked, long and slow requests. (rebuilt.sh: while the feed is made anew.)
. tests/service/lib.sh

# The demo's garden on a day in June: feeds of some 150 KB.
mkdir -p "$work/tree/contrib" "$work/tree/tests"
cp -r contrib/demo "$work/tree/contrib/"
cp -r tests/data "$work/tree/tests/"
plan=$work/tree/contrib/demo/garden.ini
sowings=$work/tree/contrib/demo/sowings/summer.ini
day=2015-06-27
rewrite() { # SED-WORDS: the sowings, as an editor saves them
    sed "$@" "$sowings" >"$sowings.new" && mv "$sowings.new" "$sowings"
}
token() { # [--new]
    "$program" --rules "$rules" --garden "$plan" "$@" token | sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics$|\1|p'
}
secret=$(token)
serve --garden "$plan" --stand-on "$day" --listen 127.0.0.1:0 --patience 2 --log-requests
await 20 grep -q 'feeds are served at' "$work/log"
ok "it says where it serves"
port=$(sed -n 's/.*feeds are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
base=http://127.0.0.1:$port
feed=$base/f/$secret/jobs.ics

# ask CURL-WORDS...: status in $status, head in $work/head, body in $work/body.
ask() {
    : >"$work/body"
    status=$(curl -s --max-time 20 -D "$work/head" -o "$work/body" -w '%{http_code}' "$@")
}
# gets WHAT STATUS CURL-WORDS...
gets() {
    gets_what=$1 gets_want=$2
    shift 2
    ask "$@"
    same "$gets_what" "$status" "$gets_want"
}
head_of() { # NAME: the value of that field
    tr -d '\r' <"$work/head" | sed -n "s/^$1: //Ip"
}
served() {
    ask "$feed" && [ "$status" = 200 ]
}
await 20 served
ok "the feed is there"

# The whole answer.
for name in jobs mornings tasks; do
    gets "$name.ics" 200 "$base/f/$secret/$name.ics"
    same "type of $name.ics" "$(head_of Content-Type)" "text/calendar; charset=utf-8"
    same "length of $name.ics" "$(head_of Content-Length)" "$(wc -c <"$work/body" | tr -d ' ')"
    same "file name of $name.ics" "$(head_of Content-Disposition)" "inline; filename=\"tarn-hollow-$name.ics\""
    same "$name.ics is a calendar" "$(head -n 1 "$work/body" | tr -d '\r'),$(tail -n 1 "$work/body" | tr -d '\r')" \
        "BEGIN:VCALENDAR,END:VCALENDAR"
    # "first 128 bits of SHA-256 of the bytes": computed here by sha256sum.
    same "tag of $name.ics" "$(head_of ETag)" "\"$(sha256sum <"$work/body" | cut -c 1-32)\""
done
gets "GET" 200 "$feed"
cp "$work/body" "$work/first"
tag=$(head_of ETag) modified=$(head_of Last-Modified)
same "Cache-Control" "$(head_of Cache-Control)" "private, max-age=900"
same "Vary" "$(head_of Vary)" "Accept-Encoding"
same "no sniffing" "$(head_of X-Content-Type-Options)" nosniff
same "no referrer" "$(head_of Referrer-Policy)" no-referrer
same "no indexing" "$(head_of X-Robots-Tag)" noindex
same "not chunked" "$(head_of Transfer-Encoding)" ""
same "modified in the past" "$([ "$(date -d "$modified" +%s)" -le "$(date +%s)" ] && echo past)" past
gets "the same again" 200 "$feed"
cmp -s "$work/first" "$work/body"
ok "two fetches give the same bytes"
gets "HEAD" 200 -I "$feed"
same "length in HEAD" "$(head_of Content-Length)" "$(wc -c <"$work/first" | tr -d ' ')"
same "tag in HEAD" "$(head_of ETag)" "$tag"
gets "Range is not for feeds" 200 -H 'Range: bytes=0-9' "$feed"
cmp -s "$work/first" "$work/body"
ok "the whole of it"
gets "a query does not count" 200 "$feed?fresh=1"
gets "HTTP/1.0" 200 -0 "$feed"

# Conditions: RFC 9110, sections 13.1.2, 13.1.3 and 13.2.2.
year_before=$(LC_ALL=C date -ud "$modified - 365 days" '+%a, %d %b %Y %T GMT')
year_after=$(LC_ALL=C date -ud "$modified + 365 days" '+%a, %d %b %Y %T GMT')
gets "the tag" 304 -H "If-None-Match: $tag" "$feed"
same "304 has no body" "$(wc -c <"$work/body" | tr -d ' ')" 0
same "304 has the tag" "$(head_of ETag)" "$tag"
same "304 has the date" "$(head_of Last-Modified)" "$modified"
same "304 has Cache-Control" "$(head_of Cache-Control)" "private, max-age=900"
same "304 has Vary" "$(head_of Vary)" "Accept-Encoding"
same "304 tells no other length" "$(head_of Content-Length | grep -vx "$(wc -c <"$work/first" | tr -d ' ')")" ""
gets "the tag, weak" 304 -H "If-None-Match: W/$tag" "$feed"
gets "in a list" 304 -H "If-None-Match: \"a\", W/\"b\", $tag, \"c\"" "$feed"
gets "in the second of two fields" 304 -H 'If-None-Match: "a"' -H "If-None-Match: $tag" "$feed"
gets "any tag" 304 -H 'If-None-Match: *' "$feed"
gets "HEAD with the tag" 304 -I -H "If-None-Match: $tag" "$feed"
gets "another tag" 200 -H 'If-None-Match: "other"' "$feed"
gets "the date" 304 -H "If-Modified-Since: $modified" "$feed"
gets "a later date" 304 -H "If-Modified-Since: $year_after" "$feed"
gets "an older date" 200 -H "If-Modified-Since: $year_before" "$feed"
gets "1970" 200 -H 'If-Modified-Since: Thu, 01 Jan 1970 00:00:00 GMT' "$feed"
gets "no date" 200 -H 'If-Modified-Since: not a date' "$feed"
gets "a tag beats a date" 200 -H 'If-None-Match: "other"' -H "If-Modified-Since: $modified" "$feed"
gets "also the other way" 304 -H "If-None-Match: $tag" -H "If-Modified-Since: $year_before" "$feed"
rm -f "$work/etags"
curl -s --etag-save "$work/etags" -o "$work/body" "$feed"
gets "curl's own memory of tags" 304 --etag-compare "$work/etags" "$feed"
touch -d "$modified" "$work/first"
gets "curl's own condition of time" 304 -z "$work/first" "$feed"
# A 304 leaves the connection in order: three answers over one.
curl -s -H "If-None-Match: $tag" -o "$work/one" "$feed" --next -s -o "$work/two" "$feed" --next -s -I -o "$work/three" \
    -w '%{num_connects}' "$feed" >"$work/connects"
cmp -s "$work/first" "$work/two"
ok "200 after 304"
same "over the same connection" "$(cat "$work/connects")" 0

# Codings: RFC 9110, section 12.5.3.
gets "gzip" 200 -H 'Accept-Encoding: gzip' "$feed"
same "it says so" "$(head_of Content-Encoding)" gzip
packed=$(head_of ETag)
same "its tag is of its own" "$([ "$packed" != "$tag" ] && echo other)" other
same "its length" "$(head_of Content-Length)" "$(wc -c <"$work/body" | tr -d ' ')"
gzip -dc <"$work/body" | cmp -s - "$work/first"
ok "the same text"
gets "refused gzip" 200 -H 'Accept-Encoding: gzip;q=0, *' "$feed"
same "it is not sent" "$(head_of Content-Encoding)" ""
gets "the packed one's tag" 304 -H 'Accept-Encoding: gzip' -H "If-None-Match: $packed" "$feed"
same "304 has that tag" "$(head_of ETag)" "$packed"
gets "the tag of the other form" 200 -H 'Accept-Encoding: gzip' -H "If-None-Match: $tag" "$feed"

# Methods that change things change nothing.
for method in POST PUT DELETE PROPFIND; do
    gets "$method" 405 -X "$method" --data-binary 'BEGIN:VCALENDAR' "$feed"
    same "what is allowed instead of $method" "$(head_of Allow)" "GET, HEAD"
done
gets "after those" 200 "$feed"
cmp -s "$work/first" "$work/body"
ok "the feed is as it was"

# What is not there: all alike. curl leaves the path as it is with --path-as-is.
wrong=$(echo "$secret" | tr 'A-Za-z0-9' 'B-ZAb-za1-90')
gets "nothing at the top" 404 "$base/"
sed '/^Date/d' "$work/head" >"$work/absent.head"
cp "$work/body" "$work/absent.body"
for path in /f/ /f/"$wrong"/jobs.ics /f/"${secret%?}"/jobs.ics /f/"$secret" /f/"$secret"/ /f/"$secret"%00/jobs.ics \
    /f/"$secret"/jobs.ics%00x /f/../f/"$secret"/jobs.ics /f/"$secret"/../"$secret"/jobs.ics /f/"$secret"/other.ics; do
    gets "$path" 404 --path-as-is "$base$path"
    sed '/^Date/d' "$work/head" | cmp -s - "$work/absent.head" && cmp -s "$work/body" "$work/absent.body"
    ok "$path is answered like all others"
done

# Limits.
long=$(printf '%01500d' 0)
gets "a long address" 414 "$base/f/$long"
gets "a longer one" 414 "$base/f/$long$long$long$long$long$long$long$long$long$long$long$long$long$long"
gets "20 KB of fields" 431 -H "X-Long: $long$long$long$long$long$long$long$long$long$long$long$long$long$long" "$feed"
/usr/bin/python3 - "$port" "$secret" >"$work/slow" <<'P'
# Sixty-four connections that send a byte a second, each kind of them: the feed is still served, they are closed.
import http.client, selectors, socket, sys, time
port, secret = int(sys.argv[1]), sys.argv[2]
kinds = (b"", f"GET /f/{secret}/jobs.ics HTTP/1.1\r\nHost: a\r\nX: ".encode(),
         f"GET /f/{secret}/jobs.ics HTTP/1.1\r\nHost: a\r\nContent-Length: 999\r\n\r\n".encode(),
         b"PROPFIND / HTTP/1.1\r\nHost: a\r\nContent-Length: 999\r\n\r\n")
watch, begun, took = selectors.DefaultSelector(), time.monotonic(), []
for i in range(64):
    s = socket.create_connection(("127.0.0.1", port))
    s.sendall(kinds[i % 4])
    watch.register(s, selectors.EVENT_READ)
tick = begun
while watch.get_map() and time.monotonic() < begun + 15:
    for key, _ in watch.select(0.2):
        try:
            answer = key.fileobj.recv(4096)
        except OSError:
            answer = b""
        if not answer:
            took.append(time.monotonic() - begun)
            watch.unregister(key.fileobj)
            key.fileobj.close()
    if time.monotonic() >= tick + 1:
        tick += 1
        for key in list(watch.get_map().values()):
            try:
                key.fileobj.send(b"x")
            except OSError:
                pass
        c = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        c.request("GET", f"/f/{secret}/jobs.ics")
        assert c.getresponse().read().endswith(b"END:VCALENDAR\r\n")
        c.close()
print(len(took), all(1 < t < 6 for t in took))
P
same "slow ones are closed in time, others served" "$(cat "$work/slow")" "64 True"
/usr/bin/python3 - "$port" "$secret" >"$work/odd" <<'P'
# Heads that servers have read in two ways: none of them may bring a second answer or end the service.
import socket, sys
port, secret = int(sys.argv[1]), sys.argv[2]
line = f"GET /f/{secret}/jobs.ics HTTP/1.1\r\n"
inner = f"GET /f/{secret}/jobs.ics HTTP/1.1\r\nHost: b\r\n\r\n"
for name, text in {
    "two hosts": line + "Host: a\r\nHost: b\r\nConnection: close\r\n\r\n",
    "bare LF": line.replace("\r", "") + "Host: a\nConnection: close\n\n",
    "length and chunks": f"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\nContent-Length: {len(inner)}\r\n"
        "Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n" + inner,
    "no host": line + "Connection: close\r\n\r\n",
    "negative length": line + "Host: a\r\nContent-Length: -1\r\n\r\n",
    "space before the colon": line + "Host : a\r\nConnection: close\r\n\r\n",
    "HTTP/2": "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    "NUL": line.replace("jobs", "jo\0bs") + "Host: a\r\nConnection: close\r\n\r\n",
    "noise": "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",
}.items():
    s = socket.create_connection(("127.0.0.1", port), timeout=10)
    s.sendall(text.encode("latin-1"))
    answer = b""
    try:
        while part := s.recv(65536):
            answer += part
    except OSError:
        pass
    s.close()
    # (libmicrohttpd 0.9.75 sends the head of its own 400 twice; the connection ends with it.)
    first, fed = answer[9:12], answer.count(b"BEGIN:VCALENDAR")
    if fed != (first == b"200") or (answer and first not in (b"200", b"400", b"404", b"501", b"505")):
        print(name, answer[:60])
P
same "odd heads" "$(cat "$work/odd")" ""
gets "after all that" 200 "$feed"

# A guesser is slowed down, others are not.
for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do
    ask "$base/f/$wrong/jobs.ics"
done
same "a guess after twenty takes a second" \
    "$(curl -s -o /dev/null -w '%{time_total}' "$base/f/$wrong/jobs.ics" | awk '{ print ($1 >= 0.9 && $1 < 5) }')" 1
same "a feed does not" "$(curl -s -o /dev/null -w '%{time_total}' "$feed" | awk '{ print ($1 < 0.9) }')" 1

# Another token: the old one is gone within a second, the new one works.
fresh=$(token --new)
gone() { # FEED
    ask "$1" && [ "$status" = 410 ]
}
await 2 gone "$feed"
ok "revoked"
gone "$base/f/$secret/mornings.ics"
ok "for all feeds"
gets "the new one" 200 "$base/f/$fresh/jobs.ics"
tag=$(head_of ETag) modified=$(head_of Last-Modified)

# Stopped and started again: the same bytes, tag and date at once.
halt
same "it ends well" "$ended_with" 0
cat "$work/log" >"$work/log.all"
serve --garden "$plan" --stand-on "$day" --listen "127.0.0.1:$port" --log-requests
feed=$base/f/$fresh/jobs.ics
await 20 served
ok "served after a restart"
same "the same tag" "$(head_of ETag)" "$tag"
same "the same date" "$(head_of Last-Modified)" "$modified"

# A plan with mistakes: the last good feed goes on.
rewrite 's/^\(crop *= \)carrot$/\1carot/'
await 20 grep -q carot "$work/log"
ok "the mistake is in the log"
gets "the feed goes on" 200 "$feed"
halt
cat "$work/log" >>"$work/log.all"
# Other sockets: one in the file system, as a proxy on the same machine uses it, and one that was opened before the start.
serve --garden "$plan" --stand-on "$day" --listen "$work/feeds.sock"
over_file() {
    ask --unix-socket "$work/feeds.sock" "http://localhost/f/$fresh/jobs.ics" && [ "$status" = 200 ]
}
await 20 over_file
ok "a socket in the file system"
same "it is for owner and group" "$(stat -c %a "$work/feeds.sock")" 660
halt
cat "$work/log" >>"$work/log.all"
same "it is gone with the service" "$([ -e "$work/feeds.sock" ] && echo there)" ""
if command -v systemd-socket-activate >/dev/null; then
    begin "$work/log" systemd-socket-activate -l "127.0.0.1:$port" "$daemon_program" --rules "$rules" --garden "$plan" --stand-on "$day"
    daemon=$pid
    await 20 served
    ok "a socket from systemd"
    grep -q 'the socket that was handed over' "$work/log"
    ok "it says so"
    halt
    same "it ends well, too" "$ended_with" 0
    cat "$work/log" >>"$work/log.all"
else
    skip "systemd-socket-activate is not here"
fi
same "no token in the log" "$(grep -c -e "$secret" -e "$fresh" -e "$wrong" "$work/log.all")" 0
same "requests are told without it" "$(grep -c '/f/…[0-9a-f]\{4\}/jobs.ics 200' "$work/log.all" | awk '{ print ($1 > 20) }')" 1
finish
