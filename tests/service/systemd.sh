#!/bin/sh
# The units under a real systemd, as process 1 of a machine of its own: installed as `make install-systemd` puts them, started,
# asked, reloaded, hung, stopped, woken by a reader and booted anew. What the unit forbids is tried from within by a command that
# carries the morning, and the same tries succeed outside of it.
. tests/service/lib.sh
. tests/kit/machine.sh

why=$(machine_lacks)
[ -x /lib/systemd/systemd ] || why="systemd is not here"
if [ -n "$why" ]; then
    skip "$why"
    finish
    exit
fi
machine_make systemd

# Two gardens: the demo's on a day in June, and the README's, whose plan has a mistake at first.
day=2015-06-27
mkdir -p "$machine/etc/dewbell/lark-bank" "$machine/etc/dewbell.secrets" "$machine/etc/tests" "$machine/srv/www/garden" \
    "$machine/home/maren" "$machine/etc/systemd/system/dewbelld.service.d"
cp -R contrib/demo "$machine/etc/dewbell/tarn-hollow"
cp -R tests/data "$machine/etc/tests/"
cat >>"$machine/etc/dewbell/tarn-hollow/garden.ini" <<'END'

[morning]
at = 07:00

[command probe]
run = /usr/bin/python3 /usr/local/share/confined.py /var/lib/dewbell/probe

[command keep]
run = /usr/bin/tee -a /var/lib/dewbell/mornings

[post hall]
url         = http://localhost:9001/morning
secret_file = post-password

[publish www]
to = /srv/www/garden
END
readme_plan | sed 's/^crop = carrot/crop = carrrot/' >"$machine/etc/dewbell/lark-bank/garden.ini"
canary=no-canary-sings-twice
echo $canary >"$machine/etc/dewbell.secrets/post-password"
chmod 700 "$machine/etc/dewbell.secrets"
chmod 600 "$machine/etc/dewbell.secrets/post-password"
echo dear >"$machine/home/maren/diary"
cp "$machine/home/maren/diary" "$machine/root"
cp "$machine/home/maren/diary" "$machine/var/tmp/mark"
cp tests/kit/confined.py "$machine/local/share/"
# What a gardener writes with `systemctl edit`, and a clock that stands on the day: 14:00 UTC is 07:00 in the garden.
echo gardeners:x:900: >>"$machine/etc/group"
chgrp 900 "$machine/srv/www/garden"
chmod 2775 "$machine/srv/www/garden"
cat >"$machine/etc/systemd/system/dewbelld.service.d/garden.conf" <<END
[Service]
LoadCredential=post-password:/etc/dewbell.secrets/post-password
ReadWritePaths=/srv/www/garden
SupplementaryGroups=gardeners
ExecStart=
ExecStart=/usr/local/bin/dewbelld --gardens /etc/dewbell --state %S/dewbell --stand-on ${day}T14:00
END

cp /usr/bin/id "$machine/local/bin/become-root"
chmod 4755 "$machine/local/bin/become-root"

boot() {
    machine_boot - /lib/systemd/systemd --unit=multi-user.target
    await 60 inside systemctl is-active multi-user.target
    ok "the machine is up"
    : >"$machine/tmp/mark" # once its /tmp was cleared
    inside ip address add 192.0.2.7/32 dev lo # an address that is not loopback
    inside mknod -m 666 /dev/beans c 1 3
    inside systemd-run --quiet --unit=hall /usr/bin/python3 -c '
import http.server
class Hall(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        text = self.rfile.read(int(self.headers["Content-Length"]))
        with open("/mnt/posts", "ab") as file:
            file.write(self.headers["Authorization"].encode() + b"\n" + text)
        self.send_response(204)
        self.end_headers()
    def log_message(self, *words):
        pass
http.server.HTTPServer(("", 9001), Hall).serve_forever()'
    await 20 inside curl -s -o /dev/null http://127.0.0.1:9001/
}
property() { # NAME
    inside systemctl show --property "$1" --value dewbelld.service
}
journal() { # WORDS...: what the service said since the machine was booted
    inside journalctl --no-pager --output cat --unit dewbelld.service _COMM=dewbelld "$@"
}
said() { # PATTERN
    journal >"$work/journal"
    grep -q -- "$1" "$work/journal"
}
answered() { # NAME STATUS: asks for a feed; body in $work/NAME
    [ "$(inside curl -s -m 20 -o - -w '%{stderr}%{http_code}' "http://127.0.0.1:8737/f/$token/$1.ics" 2>"$work/code" >"$work/$1")" = "" ] &&
        [ "$(cat "$work/code")" = "$2" ]
}
is() { # PROPERTY VALUE
    [ "$(property "$1")" = "$2" ]
}

boot
inside systemctl enable --now dewbelld.service 2>"$work/err"
same "systemctl enable --now" "$? $(grep -v '^Created symlink' "$work/err")" "0 "
same "it runs" "$(property ActiveState) $(property StatusText)" "active looking after gardens"
same "its socket" "$(inside systemctl is-active dewbelld.socket) $(inside systemctl is-enabled dewbelld.socket)" "active enabled"
token=$(inside dewbell --garden /etc/dewbell/tarn-hollow/garden.ini --state /var/lib/dewbell/tarn-hollow token |
    sed -n 's|.*/f/\([^/]*\)/jobs.ics|\1|p')
same "a token, asked for by root" ${#token} 24
await 30 answered jobs 200
ok "it serves at the socket that systemd opened"
await 30 said 'there is no good plan to go by yet'
ok "the other garden's mistake is told"
same "as a warning or worse" "$(journal --priority warning | grep -c 'garden.ini:30:8: there is no crop "carrrot"')" 1
state=$machine/var/lib/private/dewbell
uid=$(stat -c %u "$state/tarn-hollow/record.sqlite")
same "a user for the while that it runs" "$(property DynamicUser) $(inside id -un "$uid") $(stat -c '%a' "$state")" "yes dewbelld 700"

# The morning, by three ways, from within; what the command could do, and that root outside of the unit can do all of it.
mornings() {
    test -s "$state/probe" && test -s "$state/mornings" && test -s "$machine/mnt/posts"
}
await 60 mornings
ok "three mornings" || journal
same "the credential" "$(head -n 1 "$machine/mnt/posts")" "Bearer $canary"
sed 1d "$machine/mnt/posts" | cmp -s - "$state/mornings"
ok "the same text by post and by command"
same "it is the demo's morning" "$(head -n 1 "$state/mornings")" "$("$program" --rules "$rules" --garden contrib/demo/garden.ini \
    --state "$work/none" --date "$day" today | head -n 1)"
inside /usr/bin/python3 /usr/local/share/confined.py /var/lib/dewbell/probe.root </dev/null
same "tries" "$(grep -c . "$state/probe")" "$(grep -c . "$state/probe.root")"
same "root can all of it" "$(grep '^cannot' "$state/probe.root")" ""
same "what it does in the unit" "$(grep '^can ' "$state/probe")" \
    "$(printf 'can %s\n' "write its state" "write /tmp" "read the plan" "open a socket" "run a program")"
same "as that user" "$(grep '^uid' "$state/probe")" "uid $uid"

# The feeds put into the folder that was opened for it are those that are served, for a web server of another user.
published() {
    answered jobs 200 && cmp -s "$work/jobs" "$machine/srv/www/garden/jobs.ics"
}
await 20 published
ok "published into a folder"
same "readable to the web server" "$(stat -c '%a' "$machine/srv/www/garden/jobs.ics")" 644

# As the gardener looks after it: a mistake mended, a note, a reload, the status.
readme_plan >"$machine/etc/dewbell/lark-bank/garden.ini.new"
mv "$machine/etc/dewbell/lark-bank/garden.ini.new" "$machine/etc/dewbell/lark-bank/garden.ini"
await 20 said "Lark Bank: mended: "
ok "the mended plan is read"
mkdir "$machine/etc/dewbell/combe"
sed 's/^key .*/key = 5f0c6b1e-8d6b-4a53-9a1f-0f0f5a7c2b11/; s/^name .*/name = Combe/' "$machine/etc/dewbell/lark-bank/garden.ini" \
    >"$machine/etc/dewbell/combe/garden.ini"
inside systemctl reload dewbelld.service
ok "systemctl reload"
await 20 said 'reading all plans again' && await 20 said 'Combe: read: '
ok "it read all, a new garden among them"
active_again() { # the manager reads of it a moment after the log does
    [ "$(property NRestarts) $(property ActiveState)" = "0 active" ]
}
await 20 active_again
ok "it went on running"
inside dewbell --state /var/lib/dewbell status >"$work/out"
ok "dewbell status, as root"
says out '^Tarn Hollow' '^Lark Bank' '^Combe' 'command keep, Saturday 27 June 2015: sent'
inside dewbell --garden /etc/dewbell/lark-bank/garden.ini --state /var/lib/dewbell/lark-bank --date 2026-04-30 note carrot-1 up \
    >/dev/null 2>"$work/err"
same "dewbell note, as root" "$? $(cat "$work/err")" "0 "
same "nothing there that the service could not read" "$(find "$state" ! -user "$uid" ! -name probe.root)" ""

# Restarted, hung, stopped, woken by a reader, booted anew: the same bytes, and no second morning.
cp "$work/jobs" "$work/first"
same_bytes() {
    answered jobs 200 && cmp -s "$work/jobs" "$work/first"
}
inside systemctl restart dewbelld.service
same_bytes
ok "the same bytes after a restart"
{ # hung for two seconds, and with the lines that the unit offers for a life without a network
    printf '[Service]\nWatchdogSec=2\nTimeoutAbortSec=1\n'
    sed -n 's/^#\(IPAddress\)/\1/p' contrib/systemd/dewbelld.service
    for address in 127.0.0.1 192.0.2.7; do
        echo "ExecStartPre=-/usr/bin/curl -s -m 2 -o /dev/null http://$address:9001/"
    done
} >"$machine/etc/systemd/system/dewbelld.service.d/closed.conf"
inside systemctl daemon-reload
inside systemctl restart dewbelld.service
if inside journalctl --no-pager | grep -q 'does not support BPF/cgroup firewalling'; then
    skip "this kernel has no firewall for cgroups"
else
    inside curl -s -m 5 -o /dev/null http://192.0.2.7:9001/
    same "reachable from outside of the unit" $? 0
    same "loopback and nothing else (28: no answer)" "$(property ExecStartPre | sed 's/.*status=\([0-9]*\).*/\1/' | tr '\n' ' ')" "0 28 "
fi
hung=$(property MainPID)
inside kill -STOP "$hung"
await 30 is NRestarts 1
ok "who hangs is started anew"
same_bytes
ok "the same bytes after it hung"
inside systemctl stop dewbelld.service 2>/dev/null
same "it stops when asked" "$(property ActiveState) $(property Result) $(property ExecMainStatus)" "inactive success 0"
answered jobs 200
ok "a reader wakes it"
same "it runs" "$(property ActiveState)" active
same_bytes
ok "the same bytes"
same "no core with a secret in it" "$(property LimitCORE)" 0
journal >"$work/journal"
same "no secret in the journal" "$(inside journalctl --no-pager | grep -c -e "$token" -e "$canary")" 0
inside systemctl poweroff 2>/dev/null # nobody is told over D-Bus
machine_off 60
ok "the machine stops"
boot
await 30 same_bytes
ok "the same bytes after the machine was booted anew"
same "started with the machine" "$(property ActiveState)" active
same "one morning" "$(grep -c 'Saturday 27 June 2015' "$state/mornings")" 1
finish
