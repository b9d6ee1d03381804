# make run    set everything up and start Lowside on this machine
# make test   install what the tests need, then check and test everything
# make lint   style, formatting, types and which way imports point
# make bench  the benchmarks: ratios, never seconds
# make soak   attack server, store and browser for an hour; `make test` has a short run of each
# make mutants break the core's rules one at a time; a test must notice
# make steady run the browser tests RUNS times, beside BUSY busy loops; stop at the first failure
# make clean  remove what make made here; never the data or the cached tables

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check
DATA ?= data
PORT ?=
ARGS ?=
# The browser engines to test in, with commas between; all three when it is empty.
ENGINES ?=
export ENGINES
RUNS ?= 20
BUSY ?= 0

INSTALLED := $(VENV)/.installed
TESTABLE := $(VENV)/.testable
JS_READY := $(VENV)/.js-ready
TABLES := $(VENV)/.tables

# Python keeps what it compiled, also where the environment says not to: a run starts hundreds of it.
KEPT := PYTHONDONTWRITEBYTECODE= PYTHONPYCACHEPREFIX='$(CURDIR)/$(VENV)/pycache'

JS_LOCK := $(wildcard tests/js/package.json tests/js/package-lock.json)
TABLE_SOURCES := $(shell find src/lowside/thermo src/lowside/data -type f -not -name '*.pyc' 2>/dev/null)

.PHONY: run test lint bench soak mutants steady clean
.NOTPARALLEL:

run: $(TABLES)
	@if [ -z "$$(ls -A $(DATA)/sessions 2>/dev/null)" ]; then $(BIN)/lowside demo --data $(DATA); fi
	$(BIN)/lowside serve --data $(DATA) $(if $(PORT),--port $(PORT))

test: lint $(TABLES) $(JS_READY)
	sh scripts/need-engines.sh
	sh scripts/need-postgres.sh
	sh scripts/need-nginx.sh
# One worker more than cores here: a browser test waits for a third of its time.
	$(KEPT) $(BIN)/python -m pytest -n 3 --dist loadgroup $(ARGS)

lint: $(TESTABLE)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo --no-cache

bench: $(TESTABLE) $(TABLES)
	sh scripts/need-postgres.sh
	@for script in bench/*.py; do \
		[ -e "$$script" ] || { echo "bench/ holds no benchmark."; exit 1; }; \
		echo "== $$script"; $(BIN)/python "$$script" || exit 1; \
	done

soak: $(TESTABLE) $(TABLES) $(JS_READY)
	LOWSIDE_SOAK=1 $(BIN)/python -m pytest tests/soak -rP
	LOWSIDE_MADE_UP_SESSIONS=4000 $(BIN)/python -m pytest -n 2 --dist loadgroup tests/translate
	LOWSIDE_EVERY_CASE=1 $(BIN)/python -m pytest -n 2 --dist loadgroup tests/core tests/procedures
	LOWSIDE_KILLS=200 $(BIN)/python -m pytest tests/browser/test_offline.py -k killing
	LOWSIDE_OFFICE_SESSIONS=100000 $(BIN)/python -m pytest tests/browser/test_office_day.py -rP \
		-o tmp_path_retention_policy=failed

mutants: $(TESTABLE) $(TABLES)
	$(PIP) --editable '.[mutants]'
	$(BIN)/python scripts/mutants.py $(ARGS)

steady: $(TESTABLE) $(TABLES)
	sh scripts/need-engines.sh
	$(BIN)/python scripts/steady.py --runs $(RUNS) --busy $(BUSY) $(ARGS)

clean:
	rm -rf $(VENV) build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
	rm -rf tests/js/node_modules screenshots .mutants
	find src tests bench -name __pycache__ -type d -prune -exec rm -rf {} + 2>/dev/null || true

$(BIN)/python:
	sh scripts/need-python.sh $(PYTHON)
	$(PYTHON) -m venv $(VENV)

$(INSTALLED): pyproject.toml | $(BIN)/python
	$(PIP) --editable .
	@touch $@

$(TESTABLE): pyproject.toml $(INSTALLED)
	$(PIP) --editable '.[test]'
	@touch $@

$(TABLES): $(INSTALLED) $(TABLE_SOURCES)
	$(BIN)/lowside tables
	@touch $@

$(JS_READY): $(JS_LOCK) | $(BIN)/python
	sh scripts/need-node.sh
	@if [ -e tests/js/package.json ]; then cd tests/js && npm ci --no-audit --no-fund; fi
	@touch $@
