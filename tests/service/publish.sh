#!/bin/sh
# Feeds published elsewhere by the service, to real servers: a folder; nginx, xandikos and radicale over WebDAV; an
# S3-compatible bucket (s3rver and aws4 from npm) that checks signatures. No secret shows up anywhere.
. tests/service/lib.sh
export LC_ALL=C.UTF-8

free_port() {
    /usr/bin/python3 -c 'import socket; s = socket.create_server(("127.0.0.1", 0)); print(s.getsockname()[1])'
}
answers() { # PORT: something listens there
    /usr/bin/python3 -c 'import socket, sys; socket.create_connection(("127.0.0.1", int(sys.argv[1])), 1)' "$1"
}
logged() { # WORDS: the service's log has them
    grep -q -- "$1" "$work/log"
}
events() { # FILE: the identities in it, sorted
    grep '^UID:' "$1" 2>/dev/null | tr -d '\r' | sort
}
fetch() { # URL FILE
    curl -sf -m 10 --noproxy '*' -u ada:c4nary-dav -o "$2" "$1"
}
has_events() { # URL COUNT: it serves a calendar with more events than that
    fetch "$1" "$work/got" && [ "$(events "$work/got" | wc -l)" -gt "$2" ]
}
sow() { # NAME: another sowing in the plan, by an editor's rename
    { cat "$plan"; printf '\n[sowing %s]\ncrop = carrot\nbed  = north\nrow  = 1 m\nsow  = 2026-04-14\n' "$1"; } >"$plan.new"
    mv "$plan.new" "$plan"
}
puts() { # that nginx answered
    grep -c '"PUT ' "$work/nginx/access.log"
}
worked_out() {
    "$program" --garden "$plan" --json status | grep -q '"evaluated": *[0-9]'
}
for program_needed in nginx xandikos radicale curl openssl; do
    command -v $program_needed >/dev/null || PATH=$PATH:/usr/sbin
    command -v $program_needed >/dev/null || { echo "$program_needed is missing: run make deps"; same "$program_needed" missing there; finish; exit 1; }
done

garden plot
plan=$work/plot/garden.ini
mkdir "$work/disk" "$work/www" "$work/www/feeds" "$work/nginx" "$work/xandikos" "$work/radicale"
umask 077
echo c4nary-dav >"$work/plot/dav-secret"
echo c4nary-s3 >"$work/plot/s3-right"
echo c4nary-s3-not >"$work/plot/s3-wrong"
umask 022

# nginx with its own DAV module behind a login.
nginx_port=$(free_port)
printf 'ada:%s\n' "$(openssl passwd -apr1 c4nary-dav)" >"$work/nginx/users"
chmod 755 "$work"
chmod -R a+rwX "$work/www" "$work/nginx"
cat >"$work/nginx/nginx.conf" <<END
daemon off; master_process off; pid $work/nginx/pid; error_log $work/nginx/error.log;
events { worker_connections 64; }
http {
    access_log $work/nginx/access.log;
    client_body_temp_path $work/nginx/body; proxy_temp_path $work/nginx/p; fastcgi_temp_path $work/nginx/f;
    uwsgi_temp_path $work/nginx/u; scgi_temp_path $work/nginx/s;
    types { text/calendar ics; }
    server {
        listen 127.0.0.1:$nginx_port; root $work/www; dav_methods PUT DELETE; dav_access user:rw all:r;
        auth_basic "feeds"; auth_basic_user_file $work/nginx/users;
    }
}
END
begin "$work/nginx/log" nginx -c "$work/nginx/nginx.conf" -e "$work/nginx/error.log"

# xandikos keeps a file as it is and honours If-Match; radicale takes a whole calendar apart and serves it anew.
xandikos_port=$(free_port)
begin "$work/xandikos.log" xandikos -d "$work/xandikos" --defaults --listen-address 127.0.0.1 --port "$xandikos_port"
radicale_port=$(free_port)
printf 'ada:c4nary-dav\n' >"$work/radicale.users"
cat >"$work/radicale.conf" <<END
[server]
hosts = 127.0.0.1:$radicale_port
[auth]
type = htpasswd
htpasswd_filename = $work/radicale.users
htpasswd_encryption = plain
[storage]
filesystem_folder = $work/radicale
[rights]
type = owner_only
END
begin "$work/radicale.log" radicale --config "$work/radicale.conf"

# The bucket, where npm can get it.
s3_port=
if command -v npm >/dev/null && command -v node >/dev/null; then
    if { [ -d "$B/node/bucket/node_modules/s3rver" ] && [ -d "$B/node/bucket/node_modules/aws4" ]; } ||
        timeout 100 npm install --prefix "$B/node/bucket" --no-audit --no-fund --no-save s3rver@3 aws4@1 >"$work/npm.log" 2>&1; then
        s3_port=$(free_port)
        begin "$work/s3.log" node tests/service/s3_door.cjs "$B/node/bucket/node_modules" "$work/s3" "$s3_port" \
            lark eu-test-1 LARKKEY c4nary-s3
    fi
fi
for port in $nginx_port $xandikos_port $radicale_port $s3_port; do
    await 20 answers "$port"
    ok "a server listens at $port"
done

cat >>"$plan" <<END

[publish disk]
to = $work/disk

[publish nginx]
to = http://127.0.0.1:$nginx_port/feeds/
feeds = jobs, tasks
login = ada
secret_file = dav-secret

[publish xandikos]
to = http://127.0.0.1:$xandikos_port/user/calendars/calendar
feeds = jobs

[publish radicale]
to = http://127.0.0.1:$radicale_port/ada
login = ada
secret_file = dav-secret
END
if [ -n "$s3_port" ]; then
    cat >>"$plan" <<END

[publish bucket]
to = http://127.0.0.1:$s3_port/lark/spring.2026
region = eu-test-1
login = LARKKEY
secret_file = s3-right

[publish stranger]
to = http://127.0.0.1:$s3_port/lark/stranger
feeds = jobs
region = eu-test-1
login = LARKKEY
secret_file = s3-wrong
END
fi
run 0 --garden "$plan" check

nginx_jobs=http://127.0.0.1:$nginx_port/feeds/jobs.ics
xandikos_jobs=http://127.0.0.1:$xandikos_port/user/calendars/calendar/jobs.ics
radicale_jobs=http://127.0.0.1:$radicale_port/ada/jobs.ics

serve --garden "$plan" --listen 127.0.0.1:0 --stand-on 2026-04-20
for url in "$nginx_jobs" "$xandikos_jobs" "$radicale_jobs"; do
    await 30 has_events "$url" 3
    ok "the jobs are at $url"
    cp "$work/got" "$work/$(echo "$url" | cut -d : -f 3 | cut -d / -f 1).ics"
done
cmp -s "$work/disk/jobs.ics" "$work/$nginx_port.ics"
ok "nginx holds the very bytes that the folder holds"
cmp -s "$work/disk/jobs.ics" "$work/www/feeds/jobs.ics"
ok "and so does its disk"
events "$work/disk/jobs.ics" >"$work/expected"
for port in $xandikos_port $radicale_port; do
    events "$work/$port.ics" | cmp -s - "$work/expected"
    ok "the same events at port $port"
done
same "feeds in the folder" "$(cd "$work/disk" && echo *)" "jobs.ics mornings.ics tasks.ics"
same "feeds at nginx" "$(cd "$work/www/feeds" && echo *)" "jobs.ics tasks.ics"
fetch "http://127.0.0.1:$radicale_port/ada/tasks.ics" "$work/got"
same "tasks at radicale" "$(events "$work/got")" "$(events "$work/disk/tasks.ics")"

# The bucket: right signature taken, wrong one refused; each object with its type.
if [ -n "$s3_port" ]; then
    for feed in jobs mornings tasks; do
        await 20 curl -sf -m 5 --noproxy '*' -D "$work/head" -o "$work/got" "http://127.0.0.1:$s3_port/lark/spring.2026/$feed.ics"
        cmp -s "$work/got" "$work/disk/$feed.ics"
        ok "$feed.ics is in the bucket"
    done
    grep -qi '^content-type: text/calendar; charset=utf-8' "$work/head"
    ok "its type"
    grep -qi '^cache-control: private, max-age=900' "$work/head"
    ok "how long it may be kept"
    await 20 logged "did not get to \[publish stranger\].*SignatureDoesNotMatch"
    ok "a wrong secret is refused and told"
    same "nothing of the stranger's" "$(curl -s -m 5 --noproxy '*' -o /dev/null -w '%{http_code}' "http://127.0.0.1:$s3_port/lark/stranger/jobs.ics")" 404
else
    skip "s3rver or aws4 could not be had (npm is missing or its registry out of reach): the bucket"
fi

# A change gets everywhere.
sow carrot-2
before=$(wc -l <"$work/expected")
for url in "$nginx_jobs" "$xandikos_jobs" "$radicale_jobs"; do
    await 30 has_events "$url" "$before"
    ok "the change is at $url"
done
events "$work/disk/jobs.ics" >"$work/expected"

# Another program writes over it: left alone, and said once.
foreign='BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//other//EN\r\nBEGIN:VEVENT\r\nUID:strange\r\nDTSTAMP:20260401T000000Z\r\nDTSTART:20260401T000000Z\r\nSUMMARY:theirs\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n'
# shellcheck disable=SC2059 # the line ends are in it
printf "$foreign" >"$work/foreign.ics"
for url in "$xandikos_jobs" "$radicale_jobs"; do
    curl -sf -m 10 --noproxy '*' -u ada:c4nary-dav -T "$work/foreign.ics" -H 'Content-Type: text/calendar' "$url"
    ok "another program writes to $url"
done
sow carrot-3
await 30 logged "did not get to \[publish xandikos\].*leave alone"
ok "xandikos: told"
await 30 logged "did not get to \[publish radicale\].*leave alone"
ok "radicale: told"
for url in "$xandikos_jobs" "$radicale_jobs"; do
    fetch "$url" "$work/got"
    same "what the other wrote stays at $url" "$(events "$work/got")" UID:strange
done
before=$(wc -l <"$work/expected")
await 30 has_events "$nginx_jobs" "$before"
ok "the others go on"

# It is moved away: the next change gets there again.
for url in "$xandikos_jobs" "$radicale_jobs"; do
    curl -sf -m 10 --noproxy '*' -u ada:c4nary-dav -X DELETE "$url" -o /dev/null
    ok "deleted at $url"
done
sow carrot-4
for url in "$xandikos_jobs" "$radicale_jobs"; do
    await 30 has_events "$url" "$before"
    ok "published again at $url"
done

# A restart sends nothing that is there already.
put=$(puts)
[ "$put" -gt 4 ]
ok "nginx kept count"
halt
same "SIGTERM ends it with" "$ended_with" 0
cp "$work/log" "$work/log.first"
serve --garden "$plan" --listen 127.0.0.1:0 --stand-on 2026-04-20
await 20 worked_out
ok "worked out after a restart"
events "$work/www/feeds/jobs.ics" >"$work/expected"
sow carrot-5
await 30 has_events "$nginx_jobs" "$(wc -l <"$work/expected")"
ok "a change after a restart gets there"
await 10 [ "$(puts)" -ge "$((put + 2))" ]
same "PUTs after a restart: one a feed, when it changed" "$(puts)" "$((put + 2))"

# Lost records: our own older copy is known by its head and written over (xandikos keeps the head as it was).
halt
cat "$work/log" >>"$work/log.first"
rm -rf "$work/plot/.dewbell"
serve --garden "$plan" --listen 127.0.0.1:0 --stand-on 2026-04-21
sow carrot-6
await 30 has_events "$xandikos_jobs" "$(wc -l <"$work/expected")"
ok "an older copy of ours is written over"

# The folder is taken away and comes back.
mv "$work/disk" "$work/disk.away"
sow carrot-7
await 20 logged "did not get to \[publish disk\].*No such file or directory"
ok "a missing folder is told"
halt
cat "$work/log" >>"$work/log.first"

# No secret anywhere but in its file: not in logs, not in the record, not in what was published, not on a command line.
grep -rlE 'c4nary|Basic YWRh' "$work/log.first" "$work/plot/.dewbell" "$work/disk.away" "$work/www" "$work/s3" 2>/dev/null >"$work/leaks"
same "places where a secret leaked" "$(cat "$work/leaks")" ""
grep -q 'c4nary' "$work/plot/dav-secret"
ok "the search would have found one"
grep -vE '^(dewbelld: )?(error|warning|notice|info|[^ ]+): ' "$work/log.first" | head -n 3
finish
