#!/bin/sh
# Runs the core and reader tests on every Python from 3.9 to 3.13 that this machine has, each in its own environment.
set -eu
ran=0
for version in 3.9 3.10 3.11 3.12 3.13; do
    python=
    for candidate in "python$version" "$HOME"/.pyenv/versions/"$version".*/bin/python; do
        if "$candidate" -c "import sys; sys.exit('%d.%d' % sys.version_info[:2] != '$version')" 2>/dev/null; then
            python=$candidate
            break
        fi
    done
    if [ -z "$python" ]; then
        echo "Python $version: not at hand"
        continue
    fi
    venv=build/python-$version
    [ -d "$venv" ] || "$python" -m venv "$venv"
    "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable . 'pytest>=8' 'hypothesis>=6.100' 'jsonschema>=4' 'lxml>=5'
    echo "Python $version:"
    "$venv/bin/python" -m pytest -q -p no:cacheprovider tests/core tests/reader
    ran=$((ran + 1))
done
[ "$ran" -gt 0 ] || { echo "no Python from 3.9 to 3.13 found" >&2; exit 1; }
