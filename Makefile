# Everything a person does with Ballast. Needs GNU make, a Python that can make virtual environments, and the network
# for the first run; no root. `make` alone lists the targets.

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
SHELL := /bin/sh

STATE := .state
VENV := .venv
PYTHON := $(VENV)/bin/python
UV := $(STATE)/uv/bin/uv
# What `make test ARGS='-k pain'` and the like pass on.
ARGS :=
# The first port that `make demo` tries.
PORT := 8000

.PHONY: help demo test check gates faults seasons bench rules screenshots pictures messages figures lock format clean mutants coverage

help:  ## list the targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "make %-12s %s\n", $$1, $$2 }' $(MAKEFILE_LIST)

demo: $(VENV)/installed  ## run everything with an invented club, until Ctrl-C; what was entered stays
	@$(PYTHON) -m coaching.stack --port $(PORT)

test: $(VENV)/installed  ## run the tests, with a real database, queue, mail server and browser
	$(PYTHON) -m pytest $(ARGS)

check: $(VENV)/installed  ## lint, types, direction of imports, migrations, locked requirements
	@failed=; run() { echo "$$*"; "$$@" || failed=1; }; export BALLAST_DEMO=1; \
	run $(PYTHON) -m ruff check --quiet . ; \
	run $(PYTHON) -m ruff format --quiet --check . ; \
	run $(PYTHON) -m mypy --no-error-summary ; \
	run $(VENV)/bin/lint-imports ; \
	run $(PYTHON) -W 'ignore:Got an error checking a consistent migration history' \
	    manage.py makemigrations --check --dry-run ; \
	run $(PYTHON) .ci/check_lock.py ; \
	[ -z "$$failed" ] && echo 'Every check passed.'

gates: $(VENV)/installed  ## keep the promises at full size: minutes, not seconds
	$(PYTHON) -m pytest -m gate $(ARGS)

faults: $(VENV)/installed  ## kill, restart and mistreat whatever mail goes through, and count every mail
	$(PYTHON) -m pytest -m gate tests/programs/test_fault_gate.py $(ARGS)

seasons: $(VENV)/installed  ## live a million random rider-weeks against the safety properties; goes on where it was
	$(PYTHON) -m tests.engine.many_seasons $(ARGS)

bench: $(VENV)/installed  ## measure, and print the figures
	$(PYTHON) -m pytest -m bench -s $(ARGS)

rules: $(VENV)/installed  ## write docs/rules.md: every rule, its sources, and what its tests say
	$(PYTHON) -m pytest -q -p tests.rule_page --ignore tests/engine/test_rule_page.py \
	    tests/engine tests/reference tests/athletes

mutants: $(VENV)/installed  ## change the engine in one place at a time, and see which changes no test notices
	@$(PYTHON) -m tests.mutants $(ARGS)

# The branches that no test runs are listed; the share may only rise.
coverage: $(VENV)/installed  ## run the engine's tests and list the branches of the engine that none of them runs
	$(PYTHON) -m coverage run --rcfile .ci/coverage.ini -m pytest -q tests/engine tests/reference tests/athletes/test_triage.py \
	    tests/programs/test_library_rules.py tests/programs/test_library_words.py $(ARGS)
	$(PYTHON) -m coverage report --rcfile .ci/coverage.ini

screenshots: $(VENV)/installed  ## photograph each page of the demo, wide and narrow, light and dark
	$(PYTHON) -m tests.screenshots

pictures: $(VENV)/installed  ## take the pictures of the README from a demo
	$(PYTHON) -m tests.pictures

messages: $(VENV)/installed  ## bring every text into the catalogues of translations, and compile them
	BALLAST_DEMO=1 $(PYTHON) manage.py messages

figures: $(VENV)/installed  ## draw every exercise figure on contact sheets, and say what no body could do
	$(PYTHON) -m programs.figures

format: $(VENV)/installed  ## lay out the code
	$(PYTHON) -m ruff check --fix .
	$(PYTHON) -m ruff format .

# Takes the newest permitted releases, or what an uv.lock from an earlier run says. The lock file itself stays out of
# git, since it names the registry's hosts; the exported files do not.
lock: $(STATE)/uv/installed  ## pin the requirements anew from pyproject.toml
	$(UV) lock --python "$$(.ci/find-python | grep . || cat .python-version)"
	@for file in 'requirements.txt' 'requirements-dev.txt --group dev'; do \
	    set -- $$file; out=$$1; shift; \
	    { echo '# Made by `make lock` from pyproject.toml.'; \
	      $(UV) export --quiet --frozen --format requirements-txt --no-header --no-annotate --no-emit-project "$$@"; \
	    } > $(STATE)/$$out && mv $(STATE)/$$out $$out || exit 1; \
	done
	@$(MAKE) --no-print-directory $(VENV)/installed
	$(PYTHON) .ci/check_lock.py

clean:  ## remove the environment, every cache, and all that was entered in the demo
	@if [ -e $(STATE)/address ]; then echo "The demo is running at $$(cat $(STATE)/address). End it first."; exit 1; fi
	@if [ -L $(STATE)/services ]; then rm -rf "$$(readlink $(STATE)/services)"; fi
	rm -rf $(VENV) $(STATE) .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis .coverage
	@find . -name __pycache__ -type d -prune -exec rm -rf {} +

# --- the environment ----------------------------------------------------------------------------------------------------

# uv itself, at the version and with the hashes that are locked for it.
$(STATE)/uv/installed: requirements-dev.txt
	@mkdir -p $(STATE)
	@chmod 711 $(STATE)
	@python="$$(.ci/find-python | grep . || command -v python3)" || \
	    { echo 'No python3 found. Install Python 3.12 or newer.'; exit 1; }; \
	"$$python" -c 'import ensurepip, venv' 2>/dev/null || python=python3; \
	"$$python" -c 'import ensurepip, venv' 2>/dev/null || \
	    { echo "$$python cannot make virtual environments. Install what it lacks (on Debian: apt-get install python3-venv)."; exit 1; }; \
	[ -x $(STATE)/uv/bin/python ] || "$$python" -m venv --clear $(STATE)/uv
	@sed -n '/^uv==/,/[^\\]$$/p' requirements-dev.txt > $(STATE)/uv/requirements.txt
	@$(STATE)/uv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes --only-binary :all: \
	    --requirement $(STATE)/uv/requirements.txt
	@touch $@

# Exactly what is locked, nothing else, each file checked against its hash. The .pth lets tools find the tree.
$(VENV)/installed: requirements-dev.txt $(STATE)/uv/installed
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 12))' 2>/dev/null || \
	    $(UV) venv --quiet --clear --python "$$(.ci/find-python | grep . || cat .python-version)" $(VENV) || \
	    { echo 'No Python 3.12 or newer found, and none could be downloaded. Install one, then run make again.'; exit 1; }
	@$(UV) pip sync --quiet --require-hashes --python $(PYTHON) requirements-dev.txt
	@$(PYTHON) -c 'import os, sysconfig; open(sysconfig.get_path("purelib") + "/ballast.pth", "w").write(os.getcwd() + "\n")'
	@touch $@
