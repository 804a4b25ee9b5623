#!/bin/sh
# Whether the time of an answer tells how much of a guessed address was right: many guesses of each kind, in random order within
# one run, and the ranks of their times compared with those of guesses that are wholly wrong (Mann and Whitney, Annals of
# Mathematical Statistics 18, 1947). Time is never compared with a number. As a check of the check, what a
# comparison of two microseconds a character would add must be seen. That looking a token up depends on none of it is proved in
# tests/unit/service_doors.c; this looks at the whole way from the socket and back. TRIES (1000) of each kind.
. tests/service/lib.sh

garden plot
plan=$work/plot/garden.ini
secret=$("$program" --rules "$rules" --garden "$plan" token | sed -n 's|.*/f/\([A-Za-z0-9_-]*\)/jobs.ics$|\1|p')
serve --garden "$plan" --listen 127.0.0.1:0
await 20 grep -q ': read: ' "$work/log"
ok "it has read the plan"
port=$(sed -n 's/.*feeds are served at 127.0.0.1:\([0-9]*\).*/\1/p' "$work/log")
/usr/bin/python3 - "$port" "$secret" "${TRIES:-1000}" >"$work/out" 2>"$work/err" <<'P'
import math, random, socket, sys, time
port, secret, tries = int(sys.argv[1]), sys.argv[2], int(sys.argv[3])
letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"

def guess(right): # that many characters are right, the next is not
    tail = random.choice([c for c in letters if c != secret[right]]) + "".join(random.choices(letters, k=23 - right))
    return f"/f/{secret[:right] + tail}/jobs.ics"
kinds = {f"{n} right": (lambda n=n: guess(n)) for n in (0, 1, 4, 8, 12, 16, 20, 23)}
kinds |= {"one short": lambda: f"/f/{secret[:-1]}/jobs.ics", "no token": lambda: "/f/", "%00": lambda: f"/f/{secret}%00/jobs.ics",
          "..": lambda: f"/f/../f/{secret}/jobs.ics"}

def ask(number, path):
    s = socket.socket()
    s.bind((f"127.{1 + number // 250 // 250}.{number // 250 % 250}.{1 + number % 250}", 0)) # each a peer of its own: nobody is slowed down
    s.connect(("127.0.0.1", port))
    s.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    s.sendall(f"HEAD /f/{secret}/jobs.ics HTTP/1.1\r\nHost: a\r\n\r\n".encode()) # the connection is made and known
    assert s.recv(4096).startswith(b"HTTP/1.1 200")
    request = f"GET {path} HTTP/1.1\r\nHost: a\r\n\r\n".encode()
    begun = time.perf_counter_ns()
    s.sendall(request)
    answer = s.recv(4096)
    took = time.perf_counter_ns() - begun
    s.close()
    assert answer.startswith(b"HTTP/1.1 404"), answer[:40]
    return took

order = [kind for kind in kinds for _ in range(tries)]
random.shuffle(order)
times = {kind: [] for kind in kinds}
for number, kind in enumerate(order):
    times[kind].append(ask(number, kinds[kind]()))

def deviation(one, other): # of the sum of ranks from what it is without a difference, in standard deviations
    ranked = sorted([(t, 0) for t in one] + [(t, 1) for t in other])
    total, i = 0.0, 0
    while i < len(ranked):
        j = i
        while j < len(ranked) and ranked[j][0] == ranked[i][0]:
            j += 1
        total += sum((i + j + 1) / 2 for k in range(i, j) if ranked[k][1] == 0)
        i = j
    n, m = len(one), len(other)
    return (total - n * (n + m + 1) / 2) / math.sqrt(n * m * (n + m + 1) / 12)

baseline = times.pop("0 right")
for kind, taken in times.items():
    z = deviation(taken, baseline)
    print(f"{kind}: median {sorted(taken)[len(taken) // 2] / 1000:.1f} us, {z:+.1f} deviations", file=sys.stderr)
    if abs(z) > 6: # by chance once in five hundred million
        print(f"{kind}: {z:+.1f} deviations from wholly wrong ones")
slowed = [t + 2000 * 23 for t in random.choices(baseline, k=tries)]
if deviation(slowed, baseline) < 6:
    print(f"the check sees nothing: {deviation(slowed, baseline):+.1f}")
P
same "times of guesses" "$(cat "$work/out")" ""
cat "$work/err"
halt
finish
