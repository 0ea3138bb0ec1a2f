# Two commands do everything: `make report` and `make test`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: report test lint samples golden bench clean

report: $(VENV)/run.installed
	@$(BIN)/stillwell run

test: report $(VENV)/dev.installed
	@$(BIN)/python -m tests.browser.install
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check --quiet .
	@$(BIN)/mypy
	@$(BIN)/python -m pytest --numprocesses auto --dist loadfile

lint: $(VENV)/dev.installed
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .
	$(BIN)/mypy

# The invented plant that config/ and sample_exports/ hold, made again: same seed, same bytes.
samples: $(VENV)/run.installed
	$(BIN)/stillwell demo . --weeks 60 --seed 1

golden: $(VENV)/dev.installed
	$(BIN)/python -m pytest --regenerate-golden

bench: $(VENV)/dev.installed
	$(BIN)/python -m benchmarks.run

$(VENV)/pyvenv.cfg:
	$(PYTHON) -c 'import sys; sys.exit("stillwell needs Python 3.11 or newer") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(VENV)

$(VENV)/run.installed: requirements.lock pyproject.toml | $(VENV)/pyvenv.cfg
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --editable .
	@touch $@

$(VENV)/dev.installed: requirements-dev.lock $(VENV)/run.installed
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements-dev.lock
	@touch $@

clean:
	rm -rf $(VENV) archive reports/20* reports/index.html
