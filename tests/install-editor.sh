#!/bin/sh
# Installs what the test suite needs from Debian: the editor 9.0.8 or later 9.x with its demo boards and footprint
# libraries, Chromium for the report test, Xvfb for a screen, openbox and
# xdotool to drive the editor's windows on it. Does nothing where all of it is there.
set -eu

# The findings on the demo boards are judged one by one, on those that came with this version.
oldest=9.0.8

missing=
version=$(kicad-cli version 2>/dev/null || true)
case "$version" in
    9.*) [ "$(printf '%s\n%s\n' "$oldest" "$version" | sort -V | head -n 1)" = "$oldest" ] || missing="$missing kicad" ;;
    *) missing="$missing kicad" ;;
esac
[ -d /usr/share/kicad/demos ] || missing="$missing kicad-demos"
[ -d /usr/share/kicad/footprints ] || missing="$missing kicad-footprints"
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
command -v chromedriver >/dev/null 2>&1 || missing="$missing chromium-driver"
command -v Xvfb >/dev/null 2>&1 || missing="$missing xvfb"
command -v openbox >/dev/null 2>&1 || missing="$missing openbox"
command -v xdotool >/dev/null 2>&1 || missing="$missing xdotool"
python3 -c 'import venv, ensurepip' 2>/dev/null || missing="$missing python3-venv"
# the script that makes the demo board runs under the editor's Python
/usr/bin/python3 -c 'import numpy' 2>/dev/null || missing="$missing python3-numpy"
[ -z "$missing" ] && exit 0

if [ "$(id -u)" != 0 ]; then
    echo "make test needs these Debian packages:$missing (the editor from backports); run 'sudo sh tests/install-editor.sh'" >&2
    exit 2
fi

export DEBIAN_FRONTEND=noninteractive
. /etc/os-release
apt-get update -qq
target=
# Debian 12 itself has the editor's version 6 and Debian 13 has 9.0.2: take it from backports, on the mirror this
# machine already uses.
case "${VERSION_CODENAME:-}" in bookworm | trixie)
    backports=$VERSION_CODENAME-backports
    target="-t $backports"
    if [ -z "$(apt-get indextargets --format '$(SITE)' "Suite: $backports" 2>/dev/null)" ]; then
        mirror=$(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' "Codename: $VERSION_CODENAME" | head -n 1)
        [ -n "$mirror" ] || { echo "install-editor: no Debian mirror among this machine's apt sources" >&2; exit 2; }
        echo "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] $mirror $backports main" \
            > /etc/apt/sources.list.d/lineworthy-backports.list
        apt-get update -qq
    fi
    ;;
esac
apt-get install -y -qq --no-install-recommends chromium chromium-driver xvfb openbox xdotool python3-venv python3-numpy fonts-dejavu-core
# shellcheck disable=SC2086  # $target is an option and its value, or nothing
apt-get install -y -qq --no-install-recommends $target kicad kicad-demos kicad-footprints kicad-symbols
