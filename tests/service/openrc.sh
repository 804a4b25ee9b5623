#!/bin/sh
# The OpenRC script under a real OpenRC, as process 1 of a machine of its own; OpenRC is unpacked, not installed.
. tests/service/lib.sh
. tests/kit/machine.sh

why=$(machine_lacks)
[ -L /sbin ] || why="/sbin is a folder of its own here, and OpenRC's files are laid over /usr"
if [ -z "$why" ] && ! sh tests/unpack.sh "$B/unpacked/openrc" openrc libeinfo1 librc1 2>"$work/err"; then
    why="OpenRC cannot be fetched: $(tail -n 1 "$work/err")"
fi
if [ -n "$why" ]; then
    skip "$why"
    finish
    exit
fi

# Its files as they lie on a machine whose /bin, /sbin and /lib are in /usr.
unpacked=$B/unpacked/openrc
cp -a "$unpacked/usr" "$work/layer"
for folder in bin sbin lib; do
    mkdir -p "$work/layer/$folder"
    cp -a "$unpacked/$folder/." "$work/layer/$folder/"
done
machine_make openrc
cp -a "$unpacked/etc/." "$machine/etc/"
mkdir "$machine/etc/pam.d"
for kind in account auth password session; do
    echo "$kind required pam_permit.so"
done >"$machine/etc/pam.d/other"
: >"$machine/etc/insserv.conf"

# The demo's garden on a day in June; 14:00 UTC is 07:00 there. No more patience than a test has.
day=2015-06-27
mkdir -p "$machine/etc/dewbell" "$machine/etc/tests"
cp -R contrib/demo "$machine/etc/dewbell/tarn-hollow"
cp -R tests/data "$machine/etc/tests/"
printf '\n[morning]\nat = 07:00\n\n[command keep]\nrun = /usr/bin/tee -a /var/lib/dewbell/mornings\n' >>"$machine/etc/dewbell/tarn-hollow/garden.ini"
cat >>"$machine/etc/conf.d/dewbelld" <<END
dewbell_options="--stand-on ${day}T14:00"
respawn_delay=1
retry="TERM/1/KILL/5"
healthcheck_delay=1
healthcheck_timer=1
END

boot() {
    machine_boot "$work/layer" /sbin/openrc-init
    await 60 booted
    ok "the machine is up"
}
booted() {
    [ "$(inside rc-status --runlevel)" = default ]
}
answered() { # asks for the feed of jobs; body in $work/jobs
    inside curl -sf -m 20 "http://127.0.0.1:8737/f/$token/jobs.ics" >"$work/jobs" && [ -s "$work/jobs" ]
}
told() { # TIMES PATTERN: the log has that many lines with it
    [ "$(grep -c -- "$2" "$log")" = "$1" ]
}
number() { # of the service's process
    inside pidof dewbelld
}
log=$machine/var/log/dewbelld.log

boot
inside rc-service dewbelld start >"$work/out" 2>&1
same "without its user it does not start" $? 1
says out 'There is no user dewbell'
echo dewbell:x:901:901::/:/usr/sbin/nologin >>"$machine/etc/passwd"
echo dewbell:x:901: >>"$machine/etc/group"
inside rc-update add dewbelld default >/dev/null 2>"$work/err"
ok "rc-update add"
inside rc-service dewbelld start >"$work/out" 2>&1
same "rc-service start" $? 0
await 20 told 1 'Tarn Hollow: read: '
ok "it runs" || cat "$work/out" "$log"
inside rc-service dewbelld status >"$work/out" 2>&1
same "rc-service status" "$? $(grep -c 'status: started' "$work/out")" "0 1"
pid_now=$(number)
same "its user" "$(stat -c '%u %g %a' "$machine/var/lib/dewbell") $(inside stat -c %u "/proc/$pid_now")" "901 901 700 901"
same "nothing to gain" "$(inside grep NoNewPrivs "/proc/$pid_now/status" | tr -d '\t')" NoNewPrivs:1
same "no core" "$(inside awk '/Max core/ { print $5, $6 }' "/proc/$pid_now/limits")" "0 0"
same "what it makes is its own" "$(stat -c '%a' "$log" "$machine/var/lib/dewbell/tarn-hollow/record.sqlite" | tr '\n' ' ')" "600 600 "
token=$(inside dewbell --garden /etc/dewbell/tarn-hollow/garden.ini --state /var/lib/dewbell/tarn-hollow token |
    sed -n 's|.*/f/\([^/]*\)/jobs.ics|\1|p')
await 20 answered
ok "it serves"
cp "$work/jobs" "$work/first"
await 20 test -s "$machine/var/lib/dewbell/mornings"
ok "a morning by a command"
inside rc-service dewbelld reload >/dev/null 2>&1
same "rc-service reload" $? 0
await 20 told 2 'Tarn Hollow: read: '
ok "it read all again"
same "it is the same process" "$(number)" "$pid_now"

anew() { # another process runs and serves
    [ "$(number)" != "$pid_now" ] && answered
}
inside kill -KILL "$pid_now"
await 30 anew
ok "killed, it is started anew"
pid_now=$(number)
inside kill -STOP "$pid_now"
await 60 anew
ok "hung, it is started anew"
cmp -s "$work/jobs" "$work/first"
ok "the same bytes"
inside rc-service dewbelld stop >/dev/null 2>&1
same "rc-service stop" $? 0
same "it is gone" "$(number) $(tail -n 1 "$log")" " dewbelld: ending"
inside rc-service dewbelld status >/dev/null 2>&1
same "status of what is stopped" $? 3

inside openrc-shutdown --poweroff now >/dev/null 2>&1
machine_off 60
ok "the machine stops"
boot
await 20 answered
ok "started with the machine"
cmp -s "$work/jobs" "$work/first"
ok "the same bytes"
same "one morning" "$(grep -c 'Saturday 27 June 2015' "$machine/var/lib/dewbell/mornings")" 1
same "no secret in the log" "$(grep -c -e "$token" "$log")" 0
finish
