# Two commands do everything: `make demo` and `make test`. Both set up what they need.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: demo serve test fast lint lock docs pictures clean browser

demo: $(STAMP)  ## one unit through the whole job, in the terminal
	$(BIN)/python examples/demo.py

serve: $(STAMP)  ## the pages, in a browser on this machine
	$(BIN)/knowngood serve

test: $(STAMP) browser lint  ## every check: style, types, layers, tests
	$(BIN)/pytest -n auto --dist loadgroup

fast: $(STAMP) browser  ## the tests without the slow outside checks
	$(BIN)/pytest -n auto --dist loadgroup --ignore tests/published

browser:  ## Debian's Chromium, which the tests of the pages run on
	@test -x /usr/bin/chromium || { \
	  if [ "$$(id -u)" = 0 ]; then as=; elif sudo -n true 2>/dev/null; then as=sudo; else as=none; fi; \
	  if [ "$$as" = none ] || ! command -v apt-get >/dev/null; then \
	    echo "The tests of the pages need /usr/bin/chromium. Install it: apt-get install chromium (as root)."; exit 2; fi; \
	  { $$as apt-get update -qq && $$as env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium; } >/dev/null \
	  && test -x /usr/bin/chromium || { echo "apt-get could not install chromium. Install it by hand and try again."; exit 2; }; }

lint: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

docs: $(STAMP)  ## rewrites the generated pages in docs/
	$(BIN)/python docs/generate.py

pictures: $(STAMP) browser  ## takes the pictures in docs/pictures/ anew
	$(BIN)/python docs/pictures.py

$(STAMP): locks/dev.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "knowngood needs Python 3.11 or newer; this is $$($(PYTHON) --version). Set PYTHON=... to another one."; exit 2; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { echo "Python's venv module is missing: apt-get install python3-venv"; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r locks/dev.txt
	$(BIN)/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $(STAMP)

lock:  ## rewrites locks/dev.txt (needs uv; pins and hashes, no addresses)
	uv pip compile --quiet --upgrade --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --extra dev -o locks/dev.txt pyproject.toml

clean:
	rm -rf $(VENV) .demo
