# Every command of the house. Without make, or on Windows, README.md has the plain lines.
PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
export PIP_DISABLE_PIP_VERSION_CHECK = 1

.PHONY: help run test lint types check-tools bench bench-speed soak pictures clean

help:
	@echo "make run       set up, load the demo into an empty record, serve on 127.0.0.1"
	@echo "make test      set up, lint, check the types, run every test"
	@echo "make lint      ruff and mypy only"
	@echo "make bench     measure the practice faces in tests/ and print the errors beside the baselines"
	@echo "make bench-speed  time measuring a 12 and a 48 MP photo beside decoding them"
	@echo "make soak      a longer run: many measurings while the worker is killed again and again"
	@echo "make pictures  take README's screenshots anew"
	@echo "make clean     remove the virtual environment and caches; the record is not touched"

# The stamps follow pyproject.toml: a changed dependency is installed at the next command.
$(VENV)/.installed: pyproject.toml
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet -e .
	@touch $@

$(VENV)/.installed-test: pyproject.toml
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet -e ".[test]"
	@touch $@ $(VENV)/.installed

run: $(VENV)/.installed
	$(BIN)/layerwitness serve --demo

# The browser's tests by themselves: its event loop stays in the process, and others start loops of their own.
test: $(VENV)/.installed-test check-tools lint
ifeq ($(TESTS),)
	$(BIN)/python -m pytest -n 2 --dist loadfile --ignore tests/browser
	$(BIN)/python -m pytest tests/browser
else
	$(BIN)/python -m pytest $(TESTS)
endif

lint: $(VENV)/.installed-test
	$(BIN)/ruff check .
	$(BIN)/mypy

# What pip can't bring: a browser and a font. Installed where that can be done without asking.
check-tools:
	@bash .ci/system-packages

bench: $(VENV)/.installed-test
	$(BIN)/python -m tests.bench

bench-speed: $(VENV)/.installed-test
	$(BIN)/python -m tests.bench.speed

soak: $(VENV)/.installed-test
	$(BIN)/python -m pytest -m soak tests/soak $(TESTS)

pictures: $(VENV)/.installed-test check-tools
	$(BIN)/python -m tests.browser.make_screenshots

clean:
	rm -rf $(VENV) build *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
