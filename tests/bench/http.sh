#!/bin/sh
# The HTTP of the service under load, on loopback: 200 connections that ask without a pause while 1 000 stand idle, for 200 and
# for 304, beside nginx with the same bytes, in turns of a few seconds: with the feed of the jobs, which is large, and that of
# the mornings, which phones read. SECONDS_EACH=n sets the length of
# a turn, ROUNDS=n how many. h2load and nginx are Debian's.
. tests/service/lib.sh

SECONDS_EACH=${SECONDS_EACH:-3} ROUNDS=${ROUNDS:-5} BUSY=200 IDLE=1000
mkdir -p "$work/tree/contrib" "$work/tree/tests" "$work/state" "$work/www/f"
cp -r contrib/demo "$work/tree/contrib/"
cp -r tests/data "$work/tree/tests/"
plan=$work/tree/contrib/demo/garden.ini
serve --garden "$plan" --state "$work/state" --listen 127.0.0.1:0 --stand-on 2015-06-27 --idle 300
await 20 grep -q 'feeds are served at' "$work/log"
ok "the service runs"
port=$(sed -n 's/.*feeds are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
secret=$("$program" --rules "$rules" --garden "$plan" --state "$work/state" token | sed -n 's|.*/f/\(.*\)/jobs.ics|\1|p')
ours=http://127.0.0.1:$port/f/$secret
for feed in jobs mornings; do
    await 20 curl -sf -o "$work/www/f/$feed.ics" "$ours/$feed.ics"
    ok "the $feed are there"
done

# nginx: one process, as we are; no log; the same fields; a cache of open files, as its manual advises for few files.
other=$(/usr/bin/python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
cat >"$work/nginx.conf" <<E
worker_processes 1;
daemon off;
pid $work/nginx.pid;
error_log $work/nginx.log;
worker_rlimit_nofile 8192;
events { worker_connections 4096; }
http {
    access_log off;
    sendfile on;
    tcp_nopush on;
    keepalive_timeout 300;
    keepalive_requests 100000000;
    open_file_cache max=100 inactive=300s;
    types { text/calendar ics; }
    client_body_temp_path $work/nginx.body; proxy_temp_path $work/nginx.proxy; fastcgi_temp_path $work/nginx.fcgi;
    uwsgi_temp_path $work/nginx.uwsgi; scgi_temp_path $work/nginx.scgi;
    server {
        listen 127.0.0.1:$other backlog=4096;
        root $work/www;
        add_header Cache-Control "private, max-age=900" always;
        add_header Content-Disposition 'inline; filename="tarn-hollow-jobs.ics"' always;
        add_header X-Content-Type-Options nosniff always;
        add_header Referrer-Policy no-referrer always;
        add_header X-Robots-Tag noindex always;
        add_header Vary Accept-Encoding always;
    }
}
E
chmod 755 "$work"
begin "$work/nginx.out" nginx -p "$work" -c "$work/nginx.conf" -e "$work/nginx.log"
theirs=http://127.0.0.1:$other/f
for feed in jobs mornings; do
    await 20 curl -sf -o "$work/body" "$theirs/$feed.ics"
    ok "nginx runs"
    cmp -s "$work/body" "$work/www/f/$feed.ics"
    ok "with the same bytes"
done
nginx=$(pgrep -P "$pid") # the one process that works

# Idle connections to both, each of which has had an answer; they stay until the end.
cat >"$work/idle.py" <<'P'
import resource, socket, sys, time
resource.setrlimit(resource.RLIMIT_NOFILE, (min(8192, resource.getrlimit(resource.RLIMIT_NOFILE)[1]),) * 2)
count, held = int(sys.argv[1]), []
for address in sys.argv[2:]:
    port, path = address.split("/", 1)
    for _ in range(count):
        s = socket.create_connection(("127.0.0.1", int(port)))
        s.sendall(f"HEAD /{path} HTTP/1.1\r\nHost: a\r\n\r\n".encode())
        held.append(s)
for s in held:
    assert s.recv(4096).startswith(b"HTTP/1.1 200")
print("held", flush=True)
sys.stdin.readline()
alive = 0
for s in held:
    s.setblocking(False)
    try:
        alive += s.recv(1) != b""
    except BlockingIOError:
        alive += 1
print("alive", alive, flush=True)
P
mkfifo "$work/idle.in"
/usr/bin/python3 "$work/idle.py" "$IDLE" "$port/f/$secret/jobs.ics" "$other/f/jobs.ics" <"$work/idle.in" >"$work/idle.out" 2>&1 &
idler=$!
started="$started $idler"
exec 9>"$work/idle.in"
await 60 grep -q held "$work/idle.out"
ok "$IDLE connections stand idle at each"

tag_of() {
    curl -sI "$1" | tr -d '\r' | sed -n 's/^ETag: //Ip'
}
# load NAME KIND PID URL-AND-FIELDS...: a line "answers-a-second failures answers-per-second-of-processor" onto $work/NAME; KIND
# is 2xx or 3xx. What is under way when time is over counts as neither.
spent() { # PID: processor time so far, in hundredths of a second
    sed 's/.*) //' "/proc/$1/stat" | awk '{ print $12 + $13 }'
}
load() {
    load_name=$1 load_kind=$2 load_pid=$3
    shift 3
    load_before=$(spent "$load_pid")
    h2load --h1 -t 1 -c "$BUSY" -D "$SECONDS_EACH" "$@" >"$work/h2load" 2>&1
    load_spent=$(($(spent "$load_pid") - load_before))
    awk -v kind="$load_kind" -v seconds="$SECONDS_EACH" -v spent="$load_spent" '
        /^requests:/ { failed = $10 + $12 + $14 }
        /^status codes:/ { for (i = 3; i < NF; i += 2) if (index($(i + 1), kind) == 1) of_kind = $i; else other += $i }
        END { print of_kind / seconds, failed + other, of_kind * 100 / spent }' "$work/h2load" >>"$work/$load_name"
}
memory() { # RSS and its peak in KiB
    awk '/^VmRSS/ { now = $2 } /^VmHWM/ { most = $2 } END { print now, most }' "/proc/$1/status"
}
echo "before: $(memory "$daemon") KiB now and at most"
our_tag=$(tag_of "$ours/jobs.ics") their_tag=$(tag_of "$theirs/jobs.ics")
round=0
while [ "$round" -lt "$ROUNDS" ]; do
    load ours.jobs 2xx "$daemon" "$ours/jobs.ics"
    load theirs.jobs 2xx "$nginx" "$theirs/jobs.ics"
    load theirs.mornings 2xx "$nginx" "$theirs/mornings.ics"
    load ours.mornings 2xx "$daemon" "$ours/mornings.ics"
    load ours.304 3xx "$daemon" -H "If-None-Match: $our_tag" "$ours/jobs.ics"
    load theirs.304 3xx "$nginx" -H "If-None-Match: $their_tag" "$theirs/jobs.ics"
    round=$((round + 1))
done
middle() { # the median of a column
    sort -n -k "$2" "$work/$1" | awk -v column="$2" '{ a[NR] = $column } END { print a[int((NR + 1) / 2)] }'
}
# The aim is on answers a second. What a second of the server's processor time yields is printed beside it: on a machine that
# others use, too, it says more of us.
for kind in jobs mornings 304; do
    aim=1.2 size=
    [ $kind = 304 ] && aim=1.0 || size=", $(wc -c <"$work/www/f/$kind.ics") bytes"
    echo "$kind$size: $(middle "ours.$kind" 1) answers a second, nginx $(middle "theirs.$kind" 1)"
    # Of each round, ours over nginx's next to it; then the median of the rounds.
    paste "$work/ours.$kind" "$work/theirs.$kind" | awk '{ print $1 / $4, $3 / $6 }' >"$work/ratios"
    ratio=$(middle ratios 1)
    echo "$kind: $(middle "ours.$kind" 3) answers per second of processor time, nginx $(middle "theirs.$kind" 3): ratio $(middle ratios 2)"
    echo "$kind: answers a second over nginx's: $ratio"
    same "failures with $kind" "$(awk '{ sum += $2 } END { print sum + 0, NR }' "$work/ours.$kind")" "0 $ROUNDS"
    same "$kind at least $aim of nginx" "$(awk -v r="$ratio" -v aim="$aim" 'BEGIN { print (r >= aim) ? "yes" : "no, " r }')" yes
done
rss=$(memory "$daemon")
echo "after: $rss KiB now and at most, with $(ls "/proc/$daemon/fd" | wc -l) open files"
same "memory below 64 MiB" "$(echo "$rss" | awk '{ print ($2 < 65536) }')" 1
echo enough >&9
exec 9>&-
wait "$idler"
same "all that stood idle are there still" "$(tail -n 1 "$work/idle.out")" "alive $((2 * IDLE))"
halt
same "it ends well" "$ended_with" 0
finish
