#!/bin/sh
# The feeds through the web servers that stand before dewbelld, each configured by its file in contrib/proxy with names, ports and
# folders changed: over TLS come the same bytes, tags, "unchanged" and refusals, and no log holds the secret of an address, also not
# when something goes wrong.
. tests/service/lib.sh

mkdir -p "$work/tree/contrib" "$work/tree/tests"
cp -r contrib/demo "$work/tree/contrib/"
cp -r tests/data "$work/tree/tests/"
plan=$work/tree/contrib/demo/garden.ini
token() { # [--new]
    "$program" --rules "$rules" --garden "$plan" "$@" token | sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics$|\1|p'
}
revoked=$(token)
secret=$(token --new)
free_ports() { # COUNT
    /usr/bin/python3 -c 'import socket, sys
all = [socket.create_server(("127.0.0.1", 0)) for i in range(int(sys.argv[1]))]
print(*(s.getsockname()[1] for s in all))' "$1"
}
# shellcheck disable=SC2046 # numbers
set -- $(free_ports 3)
port=$1 tls=$2 plain=$3
open_garden() {
    serve --garden "$plan" --stand-on 2015-06-27T14:00 --listen "127.0.0.1:$port"
    await 20 curl -sf -o /dev/null "http://127.0.0.1:$port/f/$secret/jobs.ics"
}
open_garden
ok "the garden is there"

# ask PATH CURL-WORDS...: through the proxy; status in $status, head in $work/head, body in $work/body.
ask() {
    ask_path=$1
    shift
    : >"$work/body"
    status=$(curl -s -m 30 --cacert "$ca" --resolve "garden.example.org:$tls:127.0.0.1" -D "$work/head" -o "$work/body" \
        -w '%{http_code}' "$@" "https://garden.example.org:$tls$ask_path")
}
head_of() { # NAME
    tr -d '\r' <"$work/head" | sed -n "s/^$1: //Ip"
}
answers() {
    ask "/f/$secret/jobs.ics" && [ "$status" = 200 ]
}

cat >"$work/slow.py" <<'P'
# Reads an answer a little at a time, through a small window.
import socket, ssl, sys, time
s = socket.socket()
s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
s.connect(("127.0.0.1", int(sys.argv[2])))
t = ssl.create_default_context(cafile=sys.argv[1]).wrap_socket(s, server_hostname="garden.example.org")
t.sendall(f"GET {sys.argv[3]} HTTP/1.1\r\nHost: garden.example.org\r\nConnection: close\r\n\r\n".encode())
answer = b""
while part := t.recv(2048):
    answer += part
    time.sleep(0.005)
sys.stdout.buffer.write(answer.partition(b"\r\n\r\n")[2])
P

# What any of them has to do. $1: its name; $ca: whom to trust.
look() {
    await 20 answers
    ok "$1: it answers over TLS"
    for name in jobs mornings tasks; do
        curl -s -m 20 -D "$work/head.straight" -o "$work/straight" "http://127.0.0.1:$port/f/$secret/$name.ics"
        ask "/f/$secret/$name.ics"
        cmp -s "$work/straight" "$work/body"
        same "$1: $name.ics" "$status $?" "200 0"
        for field in ETag Last-Modified Content-Type Content-Length Content-Disposition Cache-Control Vary X-Robots-Tag Referrer-Policy; do
            same "$1: $field of $name.ics" "$(head_of $field)" "$(tr -d '\r' <"$work/head.straight" | sed -n "s/^$field: //Ip")"
        done
        tag=$(head_of ETag)
        ask "/f/$secret/$name.ics" -H "If-None-Match: $tag"
        same "$1: unchanged $name.ics" "$status $(wc -c <"$work/body" | tr -d ' ')" "304 0"
        ask "/f/$secret/$name.ics" -H 'Accept-Encoding: gzip'
        gzip -dc <"$work/body" 2>/dev/null | cmp -s - "$work/straight"
        same "$1: packed $name.ics" "$status $(head_of Content-Encoding) $?" "200 gzip 0"
    done
    ask "/f/$revoked/jobs.ics"
    same "$1: a revoked address" "$status" 410
    ask /f/no-such-secret-at-all-here/jobs.ics
    same "$1: an unknown one" "$status" 404
    head -c 20000 /dev/zero >"$work/much"
    ask "/f/$secret/jobs.ics" -X POST --data-binary "@$work/much"
    # By dewbelld, which takes no POST, or by the proxy before it; 502 where dewbelld hung up while the proxy still sent.
    case $status in 405 | 413 | 502) status=refused ;; esac
    same "$1: much sent" "$status" refused
    # A slow reader of a feed that is larger than what servers keep in memory unasked.
    curl -s -o "$work/straight" "http://127.0.0.1:$port/f/$secret/jobs.ics"
    /usr/bin/python3 "$work/slow.py" "$ca" "$tls" "/f/$secret/jobs.ics" >"$work/body"
    cmp -s "$work/straight" "$work/body"
    same "$1: a slow reader" $? 0
}
# What goes wrong is told, but no address: $1: its name; the rest: files and folders that it writes.
look_closed() {
    look_name=$1
    shift
    halt
    ask "/f/$secret/jobs.ics"
    same "$look_name: without dewbelld" "$status" 502
    ask "/f/$secret/jobs.ics" -H "Referer: https://garden.example.org/f/$secret/jobs.ics"
    same "$look_name: no log holds the secret" "$(grep -rlaF -e "$secret" -e "$revoked" "$@")" ""
    open_garden
}

if command -v nginx >/dev/null; then
    mkdir "$work/nginx"
    ca=$work/nginx/pem
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -subj /CN=garden.example.org -days 2 \
        -addext subjectAltName=DNS:garden.example.org -keyout "$work/nginx/key" -out "$ca" 2>/dev/null
    sed -e "s|/etc/ssl/garden.example.org.pem|$ca|" -e "s|/etc/ssl/private/garden.example.org.key|$work/nginx/key|" \
        -e "s|/var/log/nginx|$work/nginx|" -e "s|listen 443|listen 127.0.0.1:$tls sndbuf=4k|" -e '/listen \[::\]/d' -e "s|127.0.0.1:8737|127.0.0.1:$port|" \
        contrib/proxy/nginx.conf >"$work/nginx/dewbell.conf"
    cat >"$work/nginx/nginx.conf" <<END
pid $work/nginx/pid;
daemon off;
events { }
http {
    client_body_temp_path $work/nginx/bodies;
    proxy_temp_path $work/nginx/kept;
    fastcgi_temp_path $work/nginx/1;
    uwsgi_temp_path $work/nginx/2;
    scgi_temp_path $work/nginx/3;
    include $work/nginx/dewbell.conf;
}
END
    chmod 755 "$work" "$work/nginx" # its workers are another user
    begin "$work/nginx/said" nginx -e "$work/nginx/error" -p "$work/nginx" -c "$work/nginx/nginx.conf"
    proxy=$pid
    await 20 answers || cat "$work/nginx/said"
    # Nothing that is sent may be kept in a file on the way: there is no room for it.
    chown "$(id -u)" "$work/nginx/kept" && chmod 500 "$work/nginx/kept"
    look nginx
    look_closed nginx "$work/nginx"
    same "its log tells what was asked" "$(grep -c '"GET /f/..." 304' "$work/nginx/dewbell.log")" 3
    same "nginx: a hundred at once are too many" "$(curl -s -I -m 60 --cacert "$ca" --resolve "garden.example.org:$tls:127.0.0.1" -o /dev/null \
        -w '%{http_code}\n' "https://garden.example.org:$tls/f/$secret/jobs.ics?[1-100]" | sort -u | tr '\n' ' ')" "200 429 "
    kill "$proxy"
    wait "$proxy"
else
    skip "nginx is not here"
fi

# Caddy is unpacked, not installed: installed it would begin to serve by itself. `tls internal` in place of a public authority.
if sh tests/unpack.sh "$B/unpacked/caddy" caddy 2>"$work/err"; then
    mkdir "$work/caddy"
    awk -v tls="$tls" -v plain="$plain" -v port="$port" '
        $0 == "{" { print; print "\tadmin off\n\tskip_install_trust\n\thttp_port " plain "\n\thttps_port " tls; next }
        $0 == "garden.example.org {" { print; print "\ttls internal"; next }
        { sub(/127\.0\.0\.1:8737/, "127.0.0.1:" port); print }' contrib/proxy/Caddyfile >"$work/caddy/Caddyfile"
    begin "$work/caddy/said" env HOME="$work/caddy" XDG_DATA_HOME="$work/caddy/data" XDG_CONFIG_HOME="$work/caddy/config" \
        "$B/unpacked/caddy/usr/bin/caddy" run --config "$work/caddy/Caddyfile" --adapter caddyfile
    ca=$work/caddy/data/caddy/pki/authorities/local/root.crt
    await 20 answers || cat "$work/caddy/said"
    look caddy
    "$B/unpacked/caddy/usr/bin/caddy" fmt contrib/proxy/Caddyfile | cmp - contrib/proxy/Caddyfile
    ok "laid out as Caddy lays it out"
    look_closed caddy "$work/caddy"
    same "its log tells that something went wrong" \
        "$([ "$(grep -c '"logger":"http.log.error".*"uri":"/...".*"status":502' "$work/caddy/said")" -ge 2 ] && echo yes)" yes
    same "from the plain port to TLS" "$(curl -s -m 20 --resolve "garden.example.org:$plain:127.0.0.1" -o /dev/null -w '%{http_code} %{redirect_url}' \
        "http://garden.example.org:$plain/")" "308 https://garden.example.org/"
else
    skip "Caddy cannot be fetched: $(tail -n 1 "$work/err")"
fi
finish
