# make demo   review the demo board, no editor needed
# make test   everything: lint, types, all tests (but for what takes minutes: make test-long)
# Both do their own set-up in .venv; PYTHON picks the interpreter (3.9 or newer).

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
BOARD := demo/frost-alarm/frost-alarm.kicad_pcb
OUT := build/demo

.PHONY: package editor-pictures demo test test-desktop test-long lint types tests wheel-test interpreters test-editors bench demo-board pictures clean

demo: $(VENV)/.ready
	@$(BIN)/lineworthy review $(BOARD) --format html --out $(OUT) --fail-on never --today 2026-11-25
	@echo "open $(OUT)/frost-alarm.html in a browser"

test: $(VENV)/.ready-tests lint types tests wheel-test

lint:
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types:
	$(BIN)/mypy

# a file at a time on each core, so that what its tests share is made once; what takes long begins first (tests/conftest.py)
tests:
	$(BIN)/pytest -n auto --dist loadfile --no-loadscope-reorder -m "not long"

# of these, the plug-in installed into the real editor and clicked through
test-desktop: $(VENV)/.ready-tests
	$(BIN)/pytest -n 2 --dist loadfile tests/e2e

# what takes minutes: the editor's answers on the largest board, every footprint, the demo board built again
test-long: $(VENV)/.ready-tests
	$(BIN)/pytest -m long

# the same core tests against the built wheel, without the source tree in the way
wheel-test: $(VENV)/.ready-tests
	sh tests/test-wheel.sh $(BIN)/python

# core tests on every Python from 3.9 to 3.13 that is at hand
interpreters:
	sh tests/test-interpreters.sh

# the reader and the hosts in other versions of the editor; makes a Debian for each (root, 5 GB, some ten minutes)
EDITORS ?= $(or $(TMPDIR),/tmp)/lineworthy-chroots
test-editors: $(VENV)/.ready-tests
	sh tests/editors/chroot.sh bookworm $(EDITORS)/bookworm
	sh tests/editors/chroot.sh forky $(EDITORS)/forky
	LINEWORTHY_EDITORS=$(EDITORS) $(BIN)/pytest tests/editors; outcome=$$?; \
	  for each in bookworm forky; do sh tests/editors/chroot.sh release $(EDITORS)/$$each; done; exit $$outcome

bench: $(VENV)/.ready-tests
	$(BIN)/python benchmarks/run.py

demo-board:
	/usr/bin/python3 demo/frost-alarm/build.py

# every picture in docs/, editor-pictures among them
pictures: editor-pictures
	$(BIN)/python docs/make_pictures.py

# the archives for the editor's package manager, in build/
package: $(VENV)/.ready
	$(BIN)/python plugin/package.py

# pictures of the dialog, in the real editor and alone
editor-pictures: $(VENV)/.ready-tests
	$(BIN)/python docs/make_editor_pictures.py

# Debian splits venv off Python: say so instead of failing halfway through
$(VENV)/bin/python:
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  [ "$$(id -u)" = 0 ] && apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends python3-venv; } || { \
	  echo "$(PYTHON) lacks venv: sudo apt-get install python3-venv" >&2; exit 2; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.ready: $(VENV)/bin/python pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/.ready-tests: $(VENV)/bin/python pyproject.toml tests/install-editor.sh
	sh tests/install-editor.sh
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test]'
	@touch $@ $(VENV)/.ready

clean:
	rm -rf build dist $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis
	find . -name '*.egg-info' -prune -exec rm -rf {} +
