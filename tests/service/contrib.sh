#!/bin/sh
# What contrib/ has for the machine: the unit is well formed and as closed as we say, the scripts parse, the proxies'
# configurations are accepted, completion offers what the program knows.
. tests/service/lib.sh

if command -v systemd-analyze >/dev/null; then
    # verify wants the program where the unit says; a copy of the unit names the one that was built.
    mkdir "$work/unit"
    sed "s|/usr/bin/dewbelld|$(pwd)/$B/dewbelld|" contrib/systemd/dewbelld.service >"$work/unit/dewbelld.service"
    cp contrib/systemd/dewbelld.socket "$work/unit/"
    SYSTEMD_UNIT_PATH=$work/unit: systemd-analyze verify --man=no "$work/unit/dewbelld.service" "$work/unit/dewbelld.socket" \
        >"$work/out" 2>&1
    same "systemd-analyze verify" "$?: $(grep -e dewbelld "$work/out")" "0: "
    # Its exposure, 0 best, 10 worst; --threshold counts tenths.
    systemd-analyze security --offline=true --threshold=12 --no-pager contrib/systemd/dewbelld.service >"$work/out" 2>&1
    same "exposure at most 1.2" $? 0
    grep 'Overall exposure' "$work/out" | sed 's/[^ -~]//g'
    # That the figure can fail: the same unit with all calls allowed.
    grep -v '^SystemCallFilter' contrib/systemd/dewbelld.service >"$work/unit/open.service"
    systemd-analyze security --offline=true --threshold=12 --no-pager "$work/unit/open.service" >/dev/null 2>&1
    same "an open unit is above it" $? 1
else
    skip "systemd-analyze is not here"
fi

sh -n contrib/openrc/dewbelld
same "the OpenRC script parses" $? 0
sh -n contrib/openrc/dewbelld.conf
same "its settings parse" $? 0

if command -v nginx >/dev/null; then
    mkdir -p "$work/nginx"
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -subj /CN=garden.example.org -days 2 \
        -keyout "$work/nginx/key" -out "$work/nginx/pem" 2>/dev/null
    sed -e "s|/etc/ssl/garden.example.org.pem|$work/nginx/pem|" -e "s|/etc/ssl/private/garden.example.org.key|$work/nginx/key|" \
        -e "s|/var/log/nginx|$work/nginx|" contrib/proxy/nginx.conf >"$work/nginx/dewbell.conf"
    printf 'pid %s/pid;\nevents { }\nhttp { include %s/dewbell.conf; }\n' "$work/nginx" "$work/nginx" >"$work/nginx/nginx.conf"
    nginx -t -q -e "$work/nginx/error" -p "$work/nginx" -c "$work/nginx/nginx.conf" >"$work/out" 2>&1
    same "nginx takes the snippet" "$? $(grep -v 'test is successful' "$work/out")" "0 "
else
    skip "nginx is not here"
fi

if command -v bash >/dev/null; then
    complete() { # WORDS...: what is offered for the last of them
        # shellcheck disable=SC2016
        bash -c '. contrib/completion/dewbell.bash; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _dewbell; echo "${COMPREPLY[@]}"' complete "$@"
    }
    same "completion of commands" "$(complete "$program" sta)" status
    same "completion of options" "$(complete "$program" --gar)" --garden
    for each in "$program" "$daemon_program"; do
        # What follows an option that takes something is no command and no option.
        offered=$("$each" --help | awk '$1 ~ /^--[a-z]/ && $2 ~ /^[A-Z]+$/ && $2 !~ /^(DIR|FILE|PLACE)$/ { print $1 }' | while read -r option; do
            complete "$each" "$option" ''
        done)
        same "nothing after options of ${each##*/}" "$(echo $offered)" ""
        same "all its options" "$(complete "$each" -- | tr ' ' '\n' | sort)" "$("$each" --help | awk '$1 ~ /^--[a-z]/ { print $1 }' | sort)"
    done
    same "a plan after --garden" "$(complete "$program" --garden contrib/demo/g)" contrib/demo/garden.ini
    same "a folder after --state" "$(complete "$program" --state contrib/de)" contrib/demo
    same "a file after --try" "$(complete "$program" weather --try contrib/demo/forecast)" contrib/demo/forecast_server.py
    same "a command after an option and what it takes" "$(complete "$program" --date today sta)" status
    same "completion of jobs" \
        "$(complete "$program" --garden contrib/demo/garden.ini --state "$work/none" --date 2015-06-27 why thin-the-row/c)" \
        "$("$program" --garden contrib/demo/garden.ini --state "$work/none" --date 2015-06-27 --json jobs | /usr/bin/python3 -c 'import json,sys
print(" ".join(sorted({j["job"] for j in json.load(sys.stdin) if j["job"].startswith("thin-the-row/c")})))')"
else
    skip "bash is not here"
fi
finish
