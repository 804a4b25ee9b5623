#!/bin/sh
# `make install` into a stage: another program finds the engine by pkg-config, in C and in C++, and the installed program
# runs from the installed rules alone. The 11.7 hours are FAO Irrigation and Drainage Paper 56, example 9.
set -u
. tests/cli/lib.sh

stage=$work/stage
here=$stage/usr/local
make_into_stage() { # TARGETS...
    MAKEFLAGS='' MAKELEVEL='' ${MAKE:-make} -s --no-print-directory B="$B" DESTDIR="$stage" prefix=/usr/local "$@" >"$work/out" 2>"$work/err"
    same "make $*" "$? $(cat "$work/err")" "0 "
}
# A machine that had an older version, and has things of others beside it.
mkdir -p "$here/share/dewbell/rules/jobs" "$here/bin" "$here/share/man/man1" "$stage/etc/conf.d"
echo '[thin-the-row]' >"$here/share/dewbell/rules/jobs/of-an-older-version.ini"
touch "$here/bin/other" "$here/share/man/man1/other.1"
echo 'dewbell_state=/srv/dewbell' >"$stage/etc/conf.d/dewbelld"
make_into_stage install install-systemd install-openrc
for file in bin/dewbell bin/dewbelld lib/libdewbell.a lib/pkgconfig/dewbell.pc include/dewbell/job.h share/dewbell/rules/crops/roots.ini \
    share/dewbell/rules/jobs/thin.ini share/doc/dewbell/rules.md \
    lib/systemd/system/dewbelld.service lib/systemd/system/dewbelld.socket ../../etc/init.d/dewbelld; do
    same "installed: $file" "$([ -r "$here/$file" ] && echo yes)" yes
done

cat >"$work/day.c" <<'END'
#include <dewbell/almanac.h>
#include <dewbell/garden.h>
#include <stdio.h>
int main(void)
{
    struct db_arena *arena = db_arena_new(1 << 20);
    struct db_crops *crops = db_crops_new(arena);
    double hours = 0;
    if (db_almanac_daylight(-20.0, 246, &hours) != DB_OK)
        return 1;
    printf("%.1f %d\n", hours, (int) db_crops_count(crops));
    arena = db_arena_free(arena);
    return 0;
}
END
cp "$work/day.c" "$work/day.cc"
PKG_CONFIG_PATH=$here/lib/pkgconfig PKG_CONFIG_SYSROOT_DIR=$stage
export PKG_CONFIG_PATH PKG_CONFIG_SYSROOT_DIR
flags=$(pkg-config --cflags --libs --static dewbell)
same "pkg-config" $? 0
# shellcheck disable=SC2086 # flags split
${CC:-gcc} -std=c17 -Wall -Werror -o "$work/day" "$work/day.c" $flags && same "in C" "$("$work/day")" "11.7 0"
# shellcheck disable=SC2086
g++ -std=c++17 -Wall -Werror -o "$work/daycc" "$work/day.cc" $flags && same "in C++" "$("$work/daycc")" "11.7 0"

program=$here/bin/dewbell rules=$here/share/dewbell/rules
mkdir "$work/garden"
readme_plan >"$work/garden/garden.ini"
run 0 --garden "$work/garden/garden.ini" --date 2026-05-20 today

# The pages, as a reader finds them, without a mistake of their own.
for page in "1 dewbell" "5 dewbell-garden" "8 dewbelld"; do
    # shellcheck disable=SC2086 # section and name
    same "man $page" "$(man -M "$here/share/man" -w $page)" "$here/share/man/man${page% *}/${page#* }.${page% *}"
    # shellcheck disable=SC2086
    same "what man says of $page" "$(LC_ALL=C.UTF-8 MAN_KEEP_FORMATTING='' man --warnings -M "$here/share/man" $page 2>&1 >"$work/page")" ""
    same "its title" "$(awk 'NF { print $1; exit }' "$work/page")" "$(echo "${page#* }" | tr '[:lower:]' '[:upper:]')(${page% *})"
done

# Completion, as bash-completion finds and loads it when the first word is one of ours.
for name in dewbell dewbelld; do
    # shellcheck disable=SC2016 # for the shell that it is handed to
    same "completion of $name is loaded" "$(env XDG_DATA_DIRS="$here/share" PATH="$here/bin:$PATH" bash --norc -c '
        . /usr/share/bash-completion/bash_completion
        _completion_loader "$1"
        complete -p "$1"
        COMP_WORDS=("$1" --gar) COMP_CWORD=1
        _dewbell
        printf "%s\n" "${COMPREPLY[@]}" | sort | head -n 1' complete $name 2>&1)" "complete -F _dewbell $name
--garden"
done

# Nothing of ours is left then, and nothing else is gone.
make_into_stage uninstall
same "what is left" "$(cd "$stage" && find . -type f -o -type l | sort | tr '\n' ' ')" "./etc/conf.d/dewbelld ./usr/local/bin/other ./usr/local/share/man/man1/other.1 "
same "settings" "$(cat "$stage/etc/conf.d/dewbelld")" dewbell_state=/srv/dewbell
finish
