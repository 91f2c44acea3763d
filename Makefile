# Two commands do all the set-up: `make demo` and `make test`. Python 3.11, make and git are enough.
PYTHON ?= python3
HERE := $(dir $(abspath $(lastword $(MAKEFILE_LIST))))
VENV := $(HERE).venv
PY := $(VENV)/bin/python
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.PHONY: help demo test unit lint bench sounds wheel clean system

help:
	@echo "make demo    set up, then open the floor on a shipped class (without a terminal: play it and print the summary)"
	@echo "make test    set up, then run all checks and tests"
	@echo "make bench   measure speed and accuracy, as ratios against a baseline in the same run"
	@echo "make sounds  make the cue sounds again from their table"
	@echo "make clean   take away what make made"

$(VENV)/.run: $(HERE)pyproject.toml
	@test -x $(PY) || $(PYTHON) -m venv $(VENV)
	@$(PY) -m pip install --quiet --disable-pip-version-check --upgrade pip
	@cd $(HERE) && $(PY) -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/.tests: $(VENV)/.run
	@cd $(HERE) && $(PY) -m pip install --quiet --disable-pip-version-check --group test --group lint
	@touch $@

demo: $(VENV)/.run
	@cd $(HERE) && $(VENV)/bin/floorclock demo

# What the tests need from the machine: a sound server to play into, a voice, a terminal to run in, a database server.
# Without root the tests that need them say that they were skipped.
DEBS := pulseaudio pulseaudio-utils espeak-ng tmux postgresql
system:
	@{ command -v pulseaudio && command -v espeak-ng && command -v tmux && ls /usr/lib/postgresql/*/bin/initdb; } >/dev/null 2>&1 || { [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null \
	  && apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -qq -y $(DEBS) >/dev/null; } \
	  || echo "not all of $(DEBS) are here, and no right to install them: some tests will be skipped"

lint: $(VENV)/.tests
	cd $(HERE) && $(VENV)/bin/ruff check .
	cd $(HERE) && $(VENV)/bin/ruff format --check .
	cd $(HERE) && $(VENV)/bin/mypy
	cd $(HERE) && $(VENV)/bin/lint-imports

unit: $(VENV)/.tests system
	cd $(HERE) && $(PY) -m pytest -n auto --dist loadfile

test: lint unit

bench: $(VENV)/.tests system
	cd $(HERE) && $(PY) -m tests.bench

sounds: $(VENV)/.run
	cd $(HERE) && $(PY) -m floorclock.sound.recipes sounds

wheel: $(VENV)/.tests
	cd $(HERE) && $(PY) -m build --outdir dist .

clean:
	cd $(HERE) && rm -rf .venv dist build .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	cd $(HERE) && find . -name __pycache__ -prune -exec rm -rf {} +
