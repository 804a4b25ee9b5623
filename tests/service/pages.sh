#!/bin/sh
# The manual pages: mandoc has nothing to say of them, they name the commands and options that --help names, the plan that
# one of them shows loads, and its keys are those of docs/plan.md.
. tests/service/lib.sh

for page in docs/*.[1-8]; do
    # Our own pages are not installed where mandoc looks for those that a page refers to: that they are there is looked at here.
    mandoc -Tlint "$page" 2>&1 | grep -v 'referenced manual not found: Xr dewbell' >"$work/lint"
    same "mandoc on $page" "$(cat "$work/lint")" ""
    for other in $(sed -n 's/^\.Xr \([a-z-]*\) \([1-8]\).*/docs\/\1.\2/p' "$page"); do
        [ -e "$other" ]
        same "$page refers to $other, which is there" $? 0
    done
done

# What --help lists and what the page lists: options and commands, sorted.
helped() { # PROGRAM
    "$1" --help | grep -o -e '^  *--[a-z-]*' | tr -d ' ' | sort
}
paged() { # PAGE: tags of its list of options
    sed -n '/^\.Sh OPTIONS/,/^\.Sh SIG\|^\.Sh ENV/p' "$1" | sed -n 's/^\.It Fl -\([a-z-]*\).*/--\1/p' | sort
}
without() { # help and version say nothing of themselves in dewbell --help
    grep -v -x -e --help -e --version
}
same "options of dewbell" "$(paged docs/dewbell.1 | without)" "$(helped "$program" | without)"
same "options of dewbelld" "$(paged docs/dewbelld.8 | without)" "$(helped "$(pwd)/$B/dewbelld" | without)"
same "commands of dewbell" "$(sed -n '/^\.Sh COMMANDS/,/^\.Sh OPTIONS/p' docs/dewbell.1 | sed -n 's/^\.It Cm \([a-z]*\).*/\1/p' | sort)" \
    "$("$program" --help | awk '/^[A-Z]/ { on = $1 == "Commands" } on && /^  [a-z]/ { print $1 }' | sort)"
# Each is known to the program, too.
for option in $(paged docs/dewbelld.8); do
    word= # one that takes none is given something that has no place, so that nothing is started
    case $option in --no-gzip | --log-requests) word=nowhere ;; esac
    "$(pwd)/$B/dewbelld" "$option" $word >"$work/out" 2>&1 </dev/null &
    daemon=$!
    (sleep 5 && kill "$daemon") 2>/dev/null &
    watcher=$!
    wait "$daemon"
    status=$?
    kill "$watcher" 2>/dev/null
    case $option in
    --help | --version) same "dewbelld $option" $status 0 ;;
    --no-gzip | --log-requests) same "dewbelld $option is known" "$status $(grep -c 'no place for nowhere' "$work/out")" "64 1" ;;
    *) same "dewbelld $option without a word" $status 64 ;;
    esac
done

# The example of the page on plans, as a reader sees it.
mandoc -Tutf8 docs/dewbell-garden.5 | col -b -x | awk '/^EXAMPLES/ { on = 1; next } /^[A-Z]/ { on = 0 } on' >"$work/garden.ini"
run 0 --garden "$work/garden.ini" check

# Keys: the page has all that the long description has.
awk '/^\| key of `\[/ { on = 1; next } !/^\|/ { on = 0 }
    on { split($0, cell, "|"); n = split(cell[2], key, "`"); for (i = 2; i <= n; i += 2) print key[i] }' docs/plan.md |
    sort -u >"$work/plan"
sed -n 's/^\.It Ic //p' docs/dewbell-garden.5 | sed 's/ , Ic /\n/g' | sort -u >"$work/page"
same "keys of docs/plan.md that the page lacks" "$(comm -23 "$work/plan" "$work/page")" ""
[ "$(wc -l <"$work/plan")" -ge 20 ]
same "at least 20 keys" $? 0
finish
