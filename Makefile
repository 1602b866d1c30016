# Jointable: `make` sets up, builds, verifies and answers; `make test` runs the tests.
# Paths are quoted throughout, since a checkout may lie in a folder with a space in its name.
SHELL := /bin/sh
PYTHON ?= python3
VENV := .venv
RUN := "$(VENV)/bin/python"
export PYTHONPATH := $(CURDIR)
export PIP_DISABLE_PIP_VERSION_CHECK := 1
# Some machines forbid to keep compiled modules; then each process that is started compiles 2,700 files anew.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: all setup build verify demo test check coverage bench geometry score audit docs explore points release clean lock

all: build verify demo

# A tool environment holds uv, which fills .venv from the hashed requirements.
.tools/bin/uv: requirements/tools.txt
	$(PYTHON) -m venv .tools
	.tools/bin/python -m pip install --quiet --require-hashes -r requirements/tools.txt
	touch .tools/bin/uv

$(VENV)/.synced: .tools/bin/uv requirements/dev.txt
	test -x "$(VENV)/bin/python" || .tools/bin/uv venv --quiet --python "$$($(PYTHON) -c 'import sys; print(sys.executable)')" "$(VENV)"
	VIRTUAL_ENV="$(CURDIR)/$(VENV)" .tools/bin/uv pip sync --quiet --require-hashes requirements/dev.txt
	touch "$(VENV)/.synced"

setup: $(VENV)/.synced

# The command is installed once the databases that the package carries are there.
build: setup
	@$(RUN) -m pipeline
	@test -x "$(VENV)/bin/jointable" || VIRTUAL_ENV="$(CURDIR)/$(VENV)" .tools/bin/uv pip install --quiet --offline --no-deps --no-build-isolation --editable .

verify: setup
	@$(RUN) -m pipeline --verify

# Boxes that are overfull on purpose make `fill` end 1; anything else is an error.
demo: setup
	@$(RUN) -m jointable joint "3x12 + 1x14 stranded"
	@$(RUN) -m jointable fill --demo; test $$? -le 1

# Old clients of the database, each in an environment of its own.
$(VENV)-duckdb-%/.synced: .tools/bin/uv requirements/duckdb-%.txt
	.tools/bin/uv venv --quiet --clear --python "$$($(PYTHON) -c 'import sys; print(sys.executable)')" "$(VENV)-duckdb-$*"
	VIRTUAL_ENV="$(CURDIR)/$(VENV)-duckdb-$*" .tools/bin/uv pip sync --quiet --require-hashes requirements/duckdb-$*.txt
	touch "$(VENV)-duckdb-$*/.synced"

# The hostile requests run by themselves, since each answer is timed.
test: build $(VENV)-duckdb-1.2/.synced $(VENV)-duckdb-1.4/.synced
	@$(RUN) -m pytest -n 2 --dist loadfile --no-loadscope-reorder -p no:cacheprovider --ignore=tests/test_explorer_hostile.py
	@$(RUN) -m pytest -p no:cacheprovider tests/test_explorer_hostile.py

check: setup
	$(RUN) -m ruff check jointable pipeline tests
	$(RUN) -m ruff format --check jointable pipeline tests
	$(RUN) -m mypy
	"$(VENV)/bin/lint-imports" --no-cache

# The share of lines and branches that the tests run.
coverage: build
	$(RUN) -m pytest -n 2 --dist loadfile --no-loadscope-reorder -p no:cacheprovider --cov --cov-report= --cov-report=term --cov-report=html:build/coverage

bench: build
	@$(RUN) -m tests.benchmarks $(BENCH)

geometry: setup
	$(RUN) -m pipeline.geometry

score: setup
	$(RUN) -m pipeline.score

audit: build
	$(RUN) -m pipeline.audit

# The site of docs/ in build/site, and the pages that are generated.
docs: build
	$(RUN) -m pipeline.dictionary
	$(RUN) -m pipeline.points --page
	$(RUN) -m pipeline.licences
	$(RUN) -m sphinx --quiet --fail-on-warning -b html docs build/site

# Inputs and answers for those who write the rules again; committed in pipeline/precomputed/.
points: build
	$(RUN) -m pipeline.points

# make release NOTE="What it brings." LIBRARY=minor
release: build
	@$(RUN) -m pipeline.release --note "$(NOTE)" $(if $(LIBRARY),--library $(LIBRARY))
	@rm -rf dist
	@$(RUN) -m hatchling build -d dist
	@cp published/jointable.duckdb published/jointable.sqlite dist/
	@cd dist && sha256sum * > ../.SHA256SUMS && mv ../.SHA256SUMS SHA256SUMS

explore: build
	$(RUN) -m jointable explore

lock: .tools/bin/uv
	for name in tools duckdb-1.2 duckdb-1.4; do \
	  .tools/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-annotate --no-header "requirements/$$name.in" -o "requirements/$$name.txt" || exit 1; \
	done
	.tools/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-annotate --no-header --extra explore --extra pipeline --extra exact --group dev pyproject.toml -o requirements/dev.txt
	.tools/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-annotate --no-header pyproject.toml -o requirements/library.txt

clean:
	rm -rf "$(VENV)" "$(VENV)-duckdb-1.2" "$(VENV)-duckdb-1.4" .tools build dist
