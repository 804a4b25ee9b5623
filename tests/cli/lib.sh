# Shared by the scripts here: each is run from the top folder, prints what went wrong and last its count line.
set -u
B=${B:-build}
program=$(pwd)/$B/dewbell
rules=$(pwd)/rules
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
passed=0 failed=0

# run STATUS WORDS...: runs dewbell with them, keeps $work/out and $work/err, checks the exit status.
run() {
    want=$1
    shift
    "$program" --rules "$rules" "$@" >"$work/out" 2>"$work/err" </dev/null
    got=$?
    if [ "$got" -eq "$want" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "dewbell $*: exit status $got, expected $want"
        head -n 20 "$work/err"
    fi
}

# says WHERE PATTERN...: out or err has a line for each of the basic regular expressions.
says() {
    where=$1
    shift
    for pattern in "$@"; do
        if grep -q -- "$pattern" "$work/$where"; then
            passed=$((passed + 1))
        else
            failed=$((failed + 1))
            echo "no line with \"$pattern\" in $where:"
            head -n 20 "$work/$where"
        fi
    done
}

# same WHAT A B: two texts or numbers are equal.
same() {
    if [ "$2" = "$3" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "$1: \"$2\", expected \"$3\""
    fi
}

finish() {
    echo "$passed passed, $failed failed, 0 skipped"
    [ "$failed" -eq 0 ]
}

# The plan that the README gives to copy: the first indented block, with a key of its own.
readme_plan() {
    awk '/^       \[garden\]/ { on = 1 } on && /^   [^ ]/ { exit } on { sub(/^       /, ""); print }' README.md |
        sed "s/^key .*/key = 5f0c6b1e-8d6b-4a53-9a1f-0f0f5a7c2b10/"
}
