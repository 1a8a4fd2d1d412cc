# Everything starts from a bare Debian with python3, python3-venv and make.
VENV := .venv
PYTHON := $(VENV)/bin/python
READY := $(VENV)/.ready

.PHONY: demo test test-long lint bench reference browser lock clean

demo: $(READY)
	$(VENV)/bin/fishplate demo --force

test: $(READY) lint browser
	$(PYTHON) -m pytest -n 2 -m "not long"

# New generated examples each time, where make test takes the same ones.
test-long: $(READY) browser
	FISHPLATE_EXPLORE=1 $(PYTHON) -m pytest -n 2

# Browser tests want Debian's Chromium. Only root can install it; without it those tests are skipped, and say so.
browser:
	@if command -v chromium >/dev/null; then :; \
	elif [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium >/dev/null \
			|| echo "*** Chromium could not be installed: the browser tests will be SKIPPED ***"; \
	else echo "*** Chromium is missing and only root can install it: the browser tests will be SKIPPED ***"; fi

lint: $(READY)
	$(VENV)/bin/ruff check .
	$(VENV)/bin/ruff format --check .
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports

bench: $(READY)
	$(PYTHON) -m benchmarks

# Writes docs/reference from the code; a test says when it is out of date.
reference: $(READY)
	$(PYTHON) docs/make_reference.py

$(READY): requirements.lock pyproject.toml
	python3 -m venv $(VENV)
	$(VENV)/bin/pip install --quiet --disable-pip-version-check --requirement requirements.lock
	$(VENV)/bin/pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	touch $(READY)

# Writes the exact versions that are installed now; versions only, no addresses.
lock:
	$(VENV)/bin/pip freeze --all --exclude-editable | grep -vE "^pip==" | grep -v ' @ ' > requirements.lock

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis
