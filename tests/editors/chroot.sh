#!/bin/sh
# SPDX-License-Identifier: MIT
# Makes a Debian of its own with that release's version of the editor, to try other versions than the one installed here:
#
#   sh tests/editors/chroot.sh bookworm DIR     editor 6.0.11
#   sh tests/editors/chroot.sh forky DIR        editor 10.0.x
#
#   sh tests/editors/chroot.sh release DIR      takes this machine's /dev, /proc and /tmp out of it again
#
# DIR is used as it is where an earlier run finished it (2 to 3 GB). The mirror, and all settings that lead to it, are
# the ones this machine's own apt and pip use. Prints the folder.
set -eu

suite=${1:?"usage: chroot.sh SUITE [DIR]"}
dir=${2:-${TMPDIR:-/tmp}/lineworthy-chroots/$suite}

if [ "$suite" = release ]; then
    # while they are mounted, whoever deletes the folder deletes what is this machine's
    for shared in /tmp /dev /proc; do
        ! mountpoint -q "$dir$shared" || umount -l "$dir$shared"
    done
    exit 0
fi

mount_into() {
    # bind mounts do not outlive a restart, the folder does
    mountpoint -q "$dir/proc" || mount -t proc proc "$dir/proc"
    # /tmp: two Xvfb that do not see each other's locks there take the same display
    for shared in /dev /tmp; do
        mountpoint -q "$dir$shared" || mount --bind "$shared" "$dir$shared"
    done
}

[ "$(id -u)" = 0 ] || { echo "chroot.sh makes a Debian root folder and needs root: run 'sudo make test-editors'" >&2; exit 2; }
if [ -e "$dir/.lineworthy-ready" ]; then
    mount_into
    echo "$dir"
    exit 0
fi

command -v debootstrap >/dev/null || {
    apt-get update -qq >&2
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends debootstrap >&2
}
. /etc/os-release
mirror=$(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' "Codename: ${VERSION_CODENAME:-}" | head -n 1)
[ -n "$mirror" ] || { echo "chroot.sh: no Debian mirror among this machine's apt sources" >&2; exit 2; }

mkdir -p "$dir"
if [ ! -e "$dir/.lineworthy-base" ]; then
    # an older debootstrap knows no recipe by a younger release's name; all recent ones are the same as sid's
    recipe=/usr/share/debootstrap/scripts/$suite
    [ -e "$recipe" ] || recipe=/usr/share/debootstrap/scripts/sid
    debootstrap --variant=minbase --include=ca-certificates "$suite" "$dir" "$mirror" "$recipe" >&2
    touch "$dir/.lineworthy-base"
fi

# what leads to the mirror and the package index: proxies, certificates, pins
for settings in /etc/apt/apt.conf.d /etc/apt/auth.conf.d /etc/pip.conf /etc/ssl/certs /usr/local/share/ca-certificates \
    /etc/resolv.conf /etc/hosts "${HOME:-/root}/.config/pip" "${SSL_CERT_FILE:-}" "${PIP_CERT:-}"; do
    { [ -n "$settings" ] && [ -e "$settings" ]; } || continue
    if [ -d "$settings" ]; then
        mkdir -p "$dir$settings"
        cp -RL "$settings/." "$dir$settings/" 2>/dev/null || true
    else
        mkdir -p "$dir${settings%/*}"
        cp -L "$settings" "$dir$settings"
    fi
done
echo "deb $mirror $suite main" > "$dir/etc/apt/sources.list"

mount_into
export DEBIAN_FRONTEND=noninteractive LC_ALL=C.UTF-8
chroot "$dir" apt-get update -qq >&2
# xvfb, openbox and xdotool: a screen, windows that take the focus, and a hand
chroot "$dir" apt-get install -y -qq --no-install-recommends kicad kicad-demos \
    python3-venv python3-wxgtk4.0 xvfb xdotool openbox xauth fonts-dejavu-core >&2
# Released packages of Debian's older shapely 1 do not serve: the reviewing core wants shapely 2
chroot "$dir" python3 -m venv --system-site-packages /opt/lineworthy >&2
chroot "$dir" /opt/lineworthy/bin/python -m pip install --quiet --disable-pip-version-check \
    numpy 'shapely>=2' pytest hypothesis pillow tomli kicad-python >&2
touch "$dir/.lineworthy-ready"
chroot "$dir" apt-get clean >&2
echo "$dir"
