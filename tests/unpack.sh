#!/bin/sh
# tests/unpack.sh FOLDER PACKAGE...: the files of Debian packages, unpacked into FOLDER and not installed: for what would disturb
# this machine if it were (another init, a server that starts by itself). Fetches nothing when they are there already.
set -eu
folder=$1
shift
wanted=$(echo "$@")
[ "$(cat "$folder/.packages" 2>/dev/null)" = "$wanted" ] && exit 0

fresh=$folder.$$
rm -rf "$fresh"
mkdir -p "$fresh"
trap 'rm -rf "$fresh"' EXIT
trap 'exit 1' INT TERM HUP
cd "$fresh"
# apt fetches as a user of its own, which may not be able to write here; as root it does and says so.
apt-get download -qq "$@" >log 2>&1 || { # perhaps the lists are missing
    if [ "$(id -u)" = 0 ]; then apt-get update -qq >log 2>&1; fi
    apt-get download -qq "$@" >log 2>&1
} || { cat log >&2; exit 1; }
for package in *.deb; do
    dpkg-deb -x "$package" .
    rm "$package"
done
rm log
echo "$wanted" >.packages
cd - >/dev/null
rm -rf "$folder"
mv "$fresh" "$folder"
