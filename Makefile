# make demo    fit the demo vehicle and say where the results are
# make test    all that CI runs: lint, types, imports, tests
# make unit    the fast tests alone
# make format  put the code in the house format
# make         the same as `make help`

PYTHON ?= python3
DEMO   ?= bays/quillon-estate/piano-tuner.yaml

BIN     := .venv/bin
STAMP   := .venv/.installed
RESULTS := exports/$(notdir $(patsubst %/,%,$(dir $(DEMO))))-$(basename $(notdir $(DEMO)))

.DEFAULT_GOAL := help
.PHONY: help demo test lint format types imports unit scans schemas bench clean
MAKEFLAGS += --no-print-directory

help:
	@sed -n '/^# make/s/^# //p' Makefile

$(STAMP): pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	    { echo "packlayout needs Python 3.11 or newer: make PYTHON=/path/to/python3.11" >&2; exit 1; }
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@echo "installing into .venv (the first time takes some minutes)"
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev]'
	@touch $@

# Status 1 of `fit` is a result, a check that fails: say where it is all the same, then fail.
demo: scans
	@$(BIN)/packlayout fit $(DEMO); status=$$?; \
	if [ $$status -le 1 ]; then echo; echo "results: $(RESULTS)/ (open $(RESULTS)/report.html)"; fi; \
	if [ $$status -eq 1 ]; then echo "at least one check fails: see the report"; fi; \
	exit $$status

test: lint types imports scans
	@$(BIN)/python -m pytest -q -n 2 --dist loadfile -m "not benchmark"

lint: $(STAMP)
	@$(BIN)/ruff check --quiet .
	@$(BIN)/ruff format --quiet --check . || { echo "run: make format" >&2; exit 1; }

format: $(STAMP)
	@$(BIN)/ruff check --quiet --fix .
	@$(BIN)/ruff format --quiet .

types: $(STAMP)
	@$(BIN)/basedpyright

imports: $(STAMP)
	@$(BIN)/lint-imports --no-logo --no-cache

unit: scans
	@$(BIN)/python -m pytest -q -n 2 --dist loadfile -m "not slow and not benchmark"

# A demo vehicle's scan is generated beside its script, as scan*.ply, and again only when the script is newer.
scans: $(STAMP)
	@for script in bays/*/make_scan.py; do \
	    test -e "$$script" || continue; \
	    bay=$$(dirname "$$script"); \
	    test -z "$$(find "$$bay" -name 'scan*.ply' -newer "$$script")" || continue; \
	    echo "making the scan of $$bay"; \
	    $(BIN)/python "$$script" || exit 1; \
	done

schemas: $(STAMP)
	@$(BIN)/python -m packlayout.inputs.schemas

bench: scans
	@$(BIN)/python -m pytest -q -m benchmark

# Leaves .venv: making it again takes minutes.
clean:
	@find exports -mindepth 1 ! -name README.md -delete
	@find bays -name 'scan*.ply' -delete
	@find packlayout tests bays -name __pycache__ -type d -prune -exec rm -r {} +
	@rm -rf .pytest_cache .ruff_cache .hypothesis .benchmarks .import_linter_cache build dist
