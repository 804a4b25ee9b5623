# Shared by the scripts here, on top of tests/service/lib.sh: the real programs under valgrind. An error or a leak makes the
# exit status 99, whatever the program itself would have answered; what valgrind has to say lies in $work/found.PID.
. tests/service/lib.sh

# under_valgrind PROGRAM: writes a command of the same name that runs it so.
under_valgrind() {
    cat >"$work/${1##*/}" <<END
#!/bin/sh
exec valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite,indirect,possible \\
    --suppressions=$(pwd)/tests/valgrind.suppress --track-fds=yes --child-silent-after-fork=yes \\
    --log-file=$work/found.%p $1 "\$@"
END
    chmod +x "$work/${1##*/}"
}
under_valgrind "$program"
under_valgrind "$daemon_program"
bare_program=$program
program=$work/dewbell daemon_program=$work/dewbelld

# What valgrind said but for the descriptors that a program was born with: those it left open stand with the call that
# opened them.
nothing_found() {
    cat "$work"/found.* >"$work/out"
    awk '/ Open .* descriptor | Open file / { what = $0; next }
        what != "" && /<inherited from parent>/ { what = ""; next }
        what != "" { print what; what = "" }
        !/FILE DESCRIPTORS: / && !/^==[0-9]*== *$/' "$work/out" >"$work/left"
    same "valgrind: $(ls "$work"/found.* | wc -l) runs" "$(cat "$work/left")" ""
}

# The demo garden on a hot day, with a record of its own.
demo() { # STATUS WORDS...
    demo_status=$1
    shift
    run "$demo_status" --garden contrib/demo/garden.ini --state "$work/state" --date 2015-06-26 "$@"
}
