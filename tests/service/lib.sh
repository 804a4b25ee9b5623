# Shared by the scripts here, on top of tests/cli/lib.sh: starting and stopping the service and what stands around it.
. tests/cli/lib.sh
daemon_program=$(pwd)/$B/dewbelld
skipped=0
started= # pids of what was started; all are stopped at the end
trap 'stop_all; rm -rf "$work"' EXIT
trap 'exit 1' INT TERM HUP

stop_all() {
    for pid in $started; do
        kill "$pid" 2>/dev/null && wait "$pid" 2>/dev/null
    done
    started=
}

# begin LOG PROGRAM WORDS...: starts it in the background with its output in LOG; $pid is its number.
begin() {
    begin_log=$1
    shift
    "$@" >"$begin_log" 2>&1 </dev/null &
    pid=$!
    started="$started $pid"
}

# serve WORDS...: starts dewbelld with our rules; log in $work/log, its number in $daemon.
serve() {
    begin "$work/log" "$daemon_program" --rules "$rules" "$@"
    daemon=$pid
}

# await SECONDS WORDS...: until the command succeeds; fails when it has not by then.
await() {
    await_end=$(($(date +%s) + $1))
    shift
    until "$@" >/dev/null 2>&1; do
        [ "$(date +%s)" -lt "$await_end" ] || return 1
        sleep 0.05
    done
}

# ended PID: it runs no more.
ended() {
    ! kill -0 "$1" 2>/dev/null
}

# halt [SIGNAL]: stops the service that serve started; $ended_with is its exit status.
halt() {
    kill -"${1:-TERM}" "$daemon" 2>/dev/null
    wait "$daemon"
    ended_with=$?
}

# ok WHAT: the last command succeeded.
ok() {
    same "$1" $? 0
}

skip() { # WHY
    skipped=$((skipped + 1))
    echo "skipped: $1"
}

finish() {
    echo "$passed passed, $failed failed, $skipped skipped"
    [ "$failed" -eq 0 ]
}

# A garden of its own: the README's plan in $work/NAME, its state beside it.
garden() { # NAME
    mkdir -p "$work/$1"
    readme_plan >"$work/$1/garden.ini"
}
