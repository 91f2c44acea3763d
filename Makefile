# Two commands do all the set-up: `make demo` and `make test`. Python 3.11, make and git are enough.
# Another Python gets a folder of its own: `make test PYTHON=python3.12` works in .venv-python3.12.
HERE := $(dir $(abspath $(lastword $(MAKEFILE_LIST))))
ifdef PYTHON
VENV := $(HERE).venv-$(notdir $(PYTHON))
else
PYTHON := python3
VENV := $(HERE).venv
endif
PY := $(VENV)/bin/python
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.PHONY: help demo test unit pure lint types types-here types-darwin types-win32 bench hostile sounds wheel constraints clean system
# The same versions today and next year; what the build itself needs is held too.
# Nothing is compiled before somebody imports it: most of it nobody does.
PIP := $(PY) -m pip install --quiet --no-compile --disable-pip-version-check --constraint $(HERE)constraints.txt
# What runs on every Python, and is measured for coverage on the build machine: that makes tests twice as slow, so the rest is not.
PURE := tests/test_rooms.py tests/plan tests/clock tests/pace tests/digest
PURE_ROOMS := plan clock pace digest

help:
	@echo "make demo    set up, then open the floor on a shipped class (without a terminal: play it and print the summary)"
	@echo "make test    set up, then run all checks and tests"
	@echo "make bench   measure speed and accuracy, as ratios against a baseline in the same run"
	@echo "make hostile attack it from outside for some minutes"
	@echo "make sounds  make the cue sounds again from their table"
	@echo "make clean   take away what make made"

$(VENV)/.run: $(HERE)pyproject.toml $(HERE)constraints.txt
	@test -x $(PY) || $(PYTHON) -m venv $(VENV)
	@$(PIP) --upgrade pip
	@cd $(HERE) && $(PIP) --build-constraint constraints.txt --editable .
	@touch $@

$(VENV)/.tests: $(VENV)/.run
	@cd $(HERE) && $(PIP) --group test
	@touch $@

$(VENV)/.lint: $(VENV)/.tests
	@cd $(HERE) && $(PIP) --group lint
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

lint: $(VENV)/.lint types
	cd $(HERE) && $(VENV)/bin/ruff check .
	cd $(HERE) && $(VENV)/bin/ruff format --check .
	cd $(HERE) && $(VENV)/bin/lint-imports

# The three side by side: each keeps to one core.
types: $(VENV)/.lint
	$(MAKE) --no-print-directory -f $(HERE)Makefile -j 3 types-here types-darwin types-win32

types-here: $(VENV)/.lint
	cd $(HERE) && $(VENV)/bin/mypy

types-darwin types-win32: types-%: $(VENV)/.lint
	cd $(HERE) && $(VENV)/bin/mypy --package floorclock --platform $* --cache-dir .mypy_cache/$*

unit: $(VENV)/.tests system
ifdef CI
	cd $(HERE) && $(PY) -m pytest -n auto --dist worksteal $(addprefix --cov=floorclock/,$(PURE_ROOMS)) --cov-report= $(PURE)
	@cd $(HERE) && echo "coverage: $$($(VENV)/bin/coverage report --format=total) % of the lines of the pure rooms, by their own tests"
	cd $(HERE) && $(PY) -m pytest -n auto --dist worksteal $(addprefix --ignore=,$(PURE))
else
	cd $(HERE) && $(PY) -m pytest -n auto --dist worksteal
endif

# The short run on another Python: every module imported, and the tests of the pure rooms.
pure: $(VENV)/.tests
	cd $(HERE) && $(PY) -m pytest -n auto --dist worksteal $(PURE)

test: lint unit

bench: $(VENV)/.tests system
	cd $(HERE) && $(PY) -m tests.bench

# Nine minutes of attacks from outside; SEED=7 repeats those of a run.
hostile: $(VENV)/.tests system
	cd $(HERE) && $(PY) -m tests.hostile $(if $(SEED),--seed $(SEED))

sounds: $(VENV)/.run
	cd $(HERE) && $(PY) -m floorclock.sound.recipes sounds

wheel: $(VENV)/.tests
	cd $(HERE) && $(PY) -m build --outdir dist .

# The newest versions that pyproject.toml allows, written down.
constraints:
	rm -rf $(HERE).venv-constraints && $(PYTHON) -m venv $(HERE).venv-constraints
	cd $(HERE) && .venv-constraints/bin/python -m pip install --quiet --upgrade pip
	cd $(HERE) && .venv-constraints/bin/python -m pip install --quiet --editable . --group test --group lint --group package
	cd $(HERE) && .venv-constraints/bin/python -m pip freeze --all --exclude-editable | grep -v "^setuptools==" > constraints.txt
	rm -rf $(HERE).venv-constraints

clean:
	cd $(HERE) && rm -rf .venv .venv-* .coverage dist build .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	cd $(HERE) && find . -name __pycache__ -prune -exec rm -rf {} +
