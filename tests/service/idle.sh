#!/bin/sh
# Asleep means asleep: the service is watched by strace while nobody wants anything of it. Each wait that ended is counted
# and its reason named: what descriptor was ready, and which timer that is. None may be without one. IDLE_SECONDS (30) says
# for how long; `make soak` takes ten minutes.
. tests/service/lib.sh
seconds=${IDLE_SECONDS:-30}

if ! strace -o /dev/null true 2>/dev/null; then
    skip "strace is not here, or may not trace"
    finish
    exit
fi

# A timer is due soon after midnight and the morning hour; the zone is chosen so that it is noon there.
garden plot
hours=$(($(date -u +%-H) - 12)) # Etc/GMT+n is n hours behind
if [ "$hours" -ge 0 ]; then zone=Etc/GMT+$hours; else zone=Etc/GMT$hours; fi
sed -i "s|^zone .*|zone = $zone|" "$work/plot/garden.ini"
plan=$work/plot/garden.ini

serve --garden "$plan" --listen 127.0.0.1:0
await 20 "$program" --garden "$plan" status
await 20 grep -q ': read: ' "$work/log"
look() {
    "$program" --garden "$plan" --json status
}
at_rest() { # no timer is due while it is watched, and of two looks the second was all that woke it
    look >"$work/look" && look >"$work/status" && /usr/bin/python3 -c '
import json, sys, time
before, now = (json.load(open(name)) for name in sys.argv[2:])
sys.exit(now["wakes"] - before["wakes"] != 1 or min(t["at"] for t in now["next"]) < time.time() + float(sys.argv[1]) + 60)
' "$seconds" "$work/look" "$work/status"
}
await 20 at_rest
ok "it comes to rest"

# What its descriptors are, as the kernel says: the reason of a wake-up.
for fd in /proc/"$daemon"/fd/*; do
    echo "${fd##*/} $(readlink "$fd")"
done >"$work/fds"

strace -f -yy -tt -e trace=epoll_wait,epoll_pwait,epoll_pwait2,poll,ppoll,select,pselect6,nanosleep,clock_nanosleep,futex \
    -o "$work/trace" -p "$daemon" 2>"$work/strace" &
tracer=$!
started="$started $tracer"
await 10 grep -q attached "$work/strace"
ok "strace is attached"
/usr/bin/python3 -c "import time; time.sleep($seconds)"
kill -INT "$tracer"
wait "$tracer" 2>/dev/null

/usr/bin/python3 - "$work/trace" "$work/status" "$seconds" "$work/fds" >"$work/out" 2>&1 <<'P'
import json, re, sys
lines = open(sys.argv[1], errors="replace").read().splitlines()
names = [n["name"] for n in json.load(open(sys.argv[2]))["next"]]
woken = [l for l in lines if re.search(r"(epoll_p?wait2?|poll|select6?|nanosleep|futex)", l) and re.search(r"= \d", l)]
print(f"{len(woken)} wake-ups in {sys.argv[3]} s; timers set: " + "; ".join(names))
fds = dict(line.split(" ", 1) for line in open(sys.argv[4]).read().splitlines() if " " in line)
fds["4294967295"] = "the timer that counts through sleep"
fds["4294967294"] = "the timer by the wall clock"
unasked = 0
for line in woken:
    reasons = [fds.get(n, "descriptor " + n) for n in re.findall(r"u32=(\d+)", line)]
    unasked += not reasons
    print(line.split()[1], "woken by", " and ".join(reasons) or "NOTHING: " + line) if woken.index(line) < 20 else None
assert not unasked, f"{unasked} without a reason"
assert not woken, "nothing is due in this time"
P
same "nothing woke it" $? 0
cat "$work/out"

# That the watch sees a wake-up at all: a note is one.
strace -f -yy -e trace=epoll_wait,epoll_pwait,epoll_pwait2 -o "$work/trace" -p "$daemon" 2>"$work/strace" &
tracer=$!
started="$started $tracer"
await 10 grep -q attached "$work/strace"
run 0 --garden "$plan" note carrot-1 sown "$(date +%F)"
woke() {
    grep -q 'EPOLLIN' "$work/trace"
}
await 20 woke
ok "a note wakes it"
kill -INT "$tracer"
wait "$tracer" 2>/dev/null
same "the guard against floods" "$("$program" --garden "$plan" --json status | /usr/bin/python3 -c 'import json,sys; print(json.load(sys.stdin)["flooded"])')" False

# What it weighs, beside a program that does nothing and is linked to the same libraries.
cat >"$work/empty.c" <<'C'
#include <stdio.h>
int main(void)
{
    puts("up");
    fflush(stdout);
    return getchar() == EOF;
}
C
libraries=$(ldd "$daemon_program" | awk '$3 ~ /^\// { print $3 }')
# shellcheck disable=SC2086
if gcc -o "$work/empty" "$work/empty.c" -Wl,--no-as-needed $libraries 2>"$work/err"; then
    mkfifo "$work/hold"
    "$work/empty" <"$work/hold" >"$work/empty.out" &
    empty=$!
    exec 9>"$work/hold"
    rss() {
        awk '/^VmRSS/ { print $2 }' "/proc/$1/status"
    }
    up_and_running() {
        grep -q up "$work/empty.out"
    }
    await 10 up_and_running
    ours=$(rss "$daemon") bare=$(rss "$empty")
    echo "RSS: $ours KiB, an empty program with the same libraries $bare KiB, ratio $(awk "BEGIN { printf \"%.2f\", $ours / $bare }")"
    [ "$ours" -lt $((bare * 6)) ]
    ok "memory is bounded"
    exec 9>&-
    wait "$empty"
else
    cat "$work/err"
    skip "the empty program could not be built"
fi
halt
finish
