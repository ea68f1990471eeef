#!/bin/sh
# Packages marked ? are wanted and not needed: where the system has none of that name,
# the tests that use it say that they are skipped.
#
# Installs the Debian packages named as arguments that are not there yet, and
# says which. Not root and no sudo: prints the one command and stops. No apt:
# names the packages and goes on.
set -eu

if ! command -v dpkg-query >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
    echo "set-up: no apt here; these libraries are needed, by their Debian names: $*" >&2
    exit 0
fi
missing= wanted=
for p in "$@"; do
    state=$(dpkg-query -W -f='${Status}' "${p#\?}" 2>/dev/null || true)
    case $state in
    *"ok installed") continue ;;
    esac
    case $p in
    \?*) wanted="$wanted ${p#?}" ;;
    *) missing="$missing $p" ;;
    esac
done
[ -n "$missing$wanted" ] || exit 0

as_root=
if [ "$(id -u)" -ne 0 ]; then
    if command -v sudo >/dev/null 2>&1; then
        as_root=sudo
    elif [ -n "$missing" ]; then
        echo "set-up: missing:$missing" >&2
        echo "set-up: neither root nor sudo here; as root, run:" >&2
        echo "    apt-get install -y --no-install-recommends$missing" >&2
        exit 1
    else
        exit 0
    fi
fi
export DEBIAN_FRONTEND=noninteractive
[ -z "$missing" ] || $as_root apt-get update -qq
for p in $wanted; do
    # a name without a candidate, or a stub that only fetches a snap, is left out
    case $(apt-cache policy "$p" 2>/dev/null) in
    *"Candidate: (none)"* | *snap* | "") ;;
    *) missing="$missing $p" ;;
    esac
done
[ -n "$missing" ] || exit 0
echo "set-up: installing$missing"
$as_root env DEBIAN_FRONTEND=noninteractive \
    apt-get install -y -qq --no-install-recommends $missing >/dev/null
