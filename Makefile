# make demo   builds the demo lesson into out/
# make test   runs everything: format, lint, types, import arrows, tests
# make bench  prints the measured figures

PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt

.PHONY: demo test bench clean

demo: .venv/.ready
	$(BIN)/fillwright demo -o out

test: .venv/.ready-dev
	$(BIN)/ruff format --check --quiet src tests bench
	$(BIN)/ruff check --quiet src tests bench
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/pytest -n auto

bench: .venv/.ready-dev
	$(BIN)/python -m bench

.venv/.ready: pyproject.toml constraints.txt
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Fillwright needs Python 3.11 or newer; name one with make PYTHON=…")'
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(PIP) --editable .
	touch $@

.venv/.ready-dev: .venv/.ready
	$(PIP) --editable '.[dev]'
	touch $@

clean:
	rm -rf .venv out build
