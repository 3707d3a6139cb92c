# make demo    builds the demo lesson into out/
# make test    runs everything: format, lint, types, import arrows, names, tests
#              (as root it first installs the Debian packages that some tests need, and says so)
# make quick   runs format, lint, types and the quick tests, for daily work
# make soak    runs the long forms: 50 kills, 10,000 requests at random, whole load runs
# make test-install  installs without constraints on every Python here, lowest and newest versions, and tries it
# make fuzz    sends damaged input to every reader, FUZZ_SECONDS (20) each, and prints a table
# make serve   opens the studio in the browser
# make bench   prints the measured figures
# make bench-listening  prints how well takes are detected
# make train-ear  trains the network that hears drums again; needs a GPU, PyTorch and SoundFonts (training/ear/README.md)

PYTHON ?= python3
BIN := .venv/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt

# what tests need beyond Python: a synthesizer with a sound bank, a browser, a database server
DEBIAN := fluidsynth timgm6mb-soundfont chromium postgresql

# tests that start neither a browser nor a server and build no whole pack
QUICK := tests/unit/music tests/unit/craft tests/unit/tables tests/unit/lesson tests/unit/listen tests/unit/store \
         tests/unit/cli/test_main.py tests/golden src/fillwright/music src/fillwright/craft tests/test_pure.py

.PHONY: demo serve test quick soak fuzz test-install check js bench bench-listening train-ear parts clean

demo: .venv/.ready
	$(BIN)/fillwright demo -o out

test: check js parts
	$(BIN)/pytest -n auto

quick: check
	$(BIN)/pytest -n auto -q $(QUICK)

check: .venv/.ready-dev
	$(BIN)/ruff format --check --quiet src tests bench tools
	$(BIN)/ruff check --quiet src tests bench tools
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python tools/check_names.py

# the scripts: lint, types, and whether the practice page's bundle is up to date
js:
	@if command -v npm >/dev/null && $(MAKE) --silent node_modules/.ready; then npm run --silent check; \
	else echo "npm (with Node.js 20) is missing or could not install; skipped: ESLint, TypeScript, the bundle"; \
	  test "$$CI" != true; fi

node_modules/.ready: package.json .npmrc
	npm install --silent
	touch $@

soak: .venv/.ready-dev parts
	FILLWRIGHT_KILLS=50 FILLWRIGHT_FUZZ=10000 $(BIN)/pytest -n auto \
	  tests/e2e/test_studio_kill.py tests/e2e/test_pack_kill.py tests/property/test_studio_fuzz.py

test-install: .venv/.ready-dev
	$(BIN)/python tools/check_install.py

fuzz: .venv/.ready-dev
	$(BIN)/python -m tests.fuzz.run

serve: .venv/.ready
	$(BIN)/fillwright serve

bench: .venv/.ready-dev
	$(BIN)/python -m bench

bench-listening: .venv/.ready-dev
	$(BIN)/python -m bench.listening

# about ten minutes on one GPU; copy the weights that it names over ear.npz and case.npz to use them
train-ear: .venv/.ready-dev
	$(PIP) --editable '.[train]'
	$(BIN)/python -m training.ear shots out/ear
	$(BIN)/python -m training.ear compare out/ear
	$(BIN)/python -m training.ear modelled out/ear
	$(BIN)/python -m training.ear train out/ear

parts: .venv/.ready-dev
	@missing=""; for name in $(DEBIAN); do dpkg -s $$name >/dev/null 2>&1 || missing="$$missing $$name"; done; \
	test -z "$$missing" && exit 0; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	  echo "Installing with apt-get, for the tests:$$missing"; \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $$missing >/dev/null; \
	else echo "Not installed; the tests that need it will be skipped:$$missing"; fi

.venv/.ready: pyproject.toml constraints.txt
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Fillwright needs Python 3.11 or newer; name one with make PYTHON=…")'
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(PIP) --editable .
	touch $@

.venv/.ready-dev: .venv/.ready
	$(PIP) --editable '.[dev]'
	touch $@

clean:
	rm -rf .venv node_modules out build
