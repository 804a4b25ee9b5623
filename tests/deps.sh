#!/bin/sh
# tests/deps.sh PACKAGE... : installs those that this Debian lacks. Says nothing when all are there.
set -u

missing=
for package in "$@"; do
    # npm comes with some builds of Node.js that are not Debian's own.
    [ "$package" = npm ] && command -v npm >/dev/null && continue
    case $(dpkg-query -W -f '${Status}' "$package" 2>/dev/null) in
    "install ok installed") ;;
    *) missing="$missing $package" ;;
    esac
done
[ -z "$missing" ] && exit 0

if ! command -v apt-get >/dev/null; then
    echo "These Debian packages are needed:$missing" >&2
    exit 1
fi
as_root=
if [ "$(id -u)" != 0 ]; then
    if ! command -v sudo >/dev/null; then
        echo "As root, please: apt-get install$missing" >&2
        exit 1
    fi
    as_root=sudo
fi

echo "Installing:$missing"
# shellcheck disable=SC2086 # the list is meant to split
get() {
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends $missing
}
log=$(mktemp) && trap 'rm -f "$log"' EXIT
get >"$log" 2>&1 && exit 0
echo "(reading the list of packages first)"
if ! $as_root apt-get update -qq >"$log" 2>&1 || ! get >"$log" 2>&1; then
    cat "$log" >&2
    echo "These packages could not be installed:$missing" >&2
    exit 1
fi
