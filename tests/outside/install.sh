#!/bin/sh
# `make install` into a stage: another program finds the engine by pkg-config, in C and in C++, and the installed program
# runs from the installed rules alone. The 11.7 hours are FAO Irrigation and Drainage Paper 56, example 9.
set -u
. tests/cli/lib.sh

stage=$work/stage
MAKEFLAGS='' MAKELEVEL='' ${MAKE:-make} -s --no-print-directory B="$B" install DESTDIR="$stage" >"$work/out" 2>"$work/err"
same "make install" $? 0
here=$stage/usr/local
for file in bin/dewbell lib/libdewbell.a lib/pkgconfig/dewbell.pc include/dewbell/job.h share/dewbell/rules/crops/roots.ini \
    share/dewbell/rules/jobs/thin.ini share/doc/dewbell/rules.md; do
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
finish
