#!/bin/sh
# Builds the wheel, installs it alone into a fresh environment, and runs the core and reader tests against it.
set -eu
python=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$python" -m pip wheel --quiet --disable-pip-version-check --no-deps --wheel-dir "$work" .
"$python" -m venv "$work/venv"
"$work/venv/bin/python" -m pip install --quiet --disable-pip-version-check "$work"/lineworthy-*.whl 'pytest>=8' 'pytest-xdist>=3.7' 'hypothesis>=6.100' 'jsonschema>=4' 'lxml>=5'
# a copy of the tests elsewhere, so that nothing can be imported from the checkout
mkdir "$work/run"
cp -r tests "$work/run/tests"
cp pyproject.toml "$work/run/"
cd "$work/run"
"$work/venv/bin/python" -m pytest -q -n auto -p no:cacheprovider tests/core tests/reader
"$work/venv/bin/lineworthy" --version
