#!/bin/sh
# tests/fuzz/seeds.sh TARGET: the folders whose files a fuzz target starts from.
cd "$(dirname "$0")/../.." || exit 1
case $1 in
fuzz_plan) set -- tests/corpus/plans tests/fuzz/plan ;;
fuzz_rules) set -- tests/corpus/rules tests/fuzz/rules rules/jobs ;;
*) set -- "tests/corpus/${1#fuzz_}" "tests/fuzz/${1#fuzz_}" ;;
esac
for folder in "$@"; do
    [ -d "$folder" ] && echo "$folder"
done
exit 0
