# Everything a person does with a checkout. `make help` lists it.
PY := .venv/bin/python
SHELL := /bin/bash
.DELETE_ON_ERROR:
.PHONY: help demo test check benchmarks format lock clean setup setup-dev setup-bench

help:  ## list the targets
	@grep -hE '^[a-z-]+:.*##' Makefile | sed -E 's/^([a-z-]+):[^#]*## /\1\t/' | awk -F'\t' '{printf "  make %-12s %s\n", $$1, $$2}'

demo: setup  ## set all up, run the main job on the demo case, say where to look
	@.venv/bin/mountproof demo --out out/demo

test: check  ## set all up, check the style, types, arrows and pages, and run every test
	@$(PY) -m pytest -n 2 --dist worksteal

check: setup-dev  ## lint, types, arrows and pages (no tests; under 30 s)
	@.venv/bin/ruff format --check -q .
	@.venv/bin/ruff check -q .
	@.venv/bin/lint-imports --no-cache >/dev/null || .venv/bin/lint-imports --no-cache
	@.venv/bin/mypy
	@$(PY) -m pytest -q tests/test_pages.py

benchmarks: setup-bench  ## ratios against general-purpose libraries, same work, same answer, one run
	@.venv-bench/bin/python -m benchmarks

format:  ## write the house style into the files
	@.venv/bin/ruff format -q . && .venv/bin/ruff check -q --fix .

lock: .venv/uv  ## renew the locked dependencies (hashes, no registry addresses)
	@tools/lock

clean:  ## remove what the set-up and the demo made
	rm -rf .venv .venv-bench out build dist

setup: .venv/ready
setup-dev: .venv/ready-dev
# The libraries compared against stay apart from those of the tests.
setup-bench: .venv-bench/ready

.venv/uv: requirements-uv.lock
	@python3 -m venv .venv
	@$(PY) -m pip install -q --disable-pip-version-check --require-hashes -r requirements-uv.lock
	@touch $@

.venv/ready: requirements.lock pyproject.toml tools/install | .venv/uv
	@tools/install requirements.lock .venv && touch $@

.venv/ready-dev: requirements-dev.lock pyproject.toml tools/install | .venv/uv
	@tools/install requirements-dev.lock .venv && touch $@ .venv/ready

.venv-bench/ready: requirements-bench.lock pyproject.toml tools/install tools/install-bench-system | .venv/uv
	@tools/install-bench-system
	@python3 -m venv .venv-bench
	@tools/install requirements-bench.lock .venv-bench && touch $@
