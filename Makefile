# Everything a person does with a checkout. `make help` lists it.
PY := .venv/bin/python
SHELL := /bin/bash
PAGE := src/mountproof/surfaces/web/page/index.html
# What the page is made of; a file more or less counts as well, by the time of its folder.
PAGE_PARTS := $(shell find web/src web/words web/public web/tools) web/index.html web/vite.config.ts web/tsconfig.json
.DELETE_ON_ERROR:
.PHONY: help demo test check style page benchmarks format lock clean setup setup-dev setup-bench browser database

help:  ## list the targets
	@grep -hE '^[a-z-]+:.*##' Makefile | sed -E 's/^([a-z-]+):[^#]*## /\1\t/' | awk -F'\t' '{printf "  make %-12s %s\n", $$1, $$2}'

demo: setup  ## set all up, run the main job on the demo case, say where to look
	@.venv/bin/mountproof demo --out out/demo
	@echo 'Next: .venv/bin/mountproof open   (the bench in your browser)'

test: style browser database  ## set all up, check the style, types and arrows, and run every test
	@$(PY) -m pytest -n 2 --dist worksteal

check: style  ## style, types, arrows, and the pages (a minute)
	@$(PY) -m pytest -q tests/test_pages.py

style: setup-dev  ## lint, types and arrows of both languages
	@.venv/bin/ruff format --check -q .
	@.venv/bin/ruff check -q .
	@.venv/bin/lint-imports --no-cache >/dev/null || .venv/bin/lint-imports --no-cache
	@.venv/bin/mypy
	@tools/page check

page: $(PAGE)  ## build the page of the web bench into the package

benchmarks: setup-bench  ## ratios against general-purpose libraries, same work, same answer, one run
	@.venv-bench/bin/python -m benchmarks

format: web/node_modules/.ready  ## write the house style into the files
	@.venv/bin/ruff format -q . && .venv/bin/ruff check -q --fix .
	@cd web && npm run --silent format >/dev/null

lock: .venv/uv  ## renew the locked dependencies (hashes, no registry addresses)
	@tools/lock

clean:  ## remove what the set-up and the demo made
	rm -rf .venv .venv-bench out build dist web/node_modules $(dir $(PAGE))

setup: .venv/ready $(PAGE)
setup-dev: .venv/ready-dev $(PAGE)
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

web/node_modules/.ready: web/package-lock.json web/package.json web/.npmrc tools/page
	@tools/page libraries && touch $@

$(PAGE): web/node_modules/.ready $(PAGE_PARTS)
	@tools/page build && touch $@

browser:
	@tools/install-browser

database:
	@tools/install-postgresql
