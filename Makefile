# Everything a newcomer needs: `make demo` and `make test`. Each sets up .venv from the locked list by itself.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: demo test lint bench coverage-check coverage-study evidence-check stop-check fuzz-check night-demo spark-check audit lock clean

# uv where it is there (seconds), pip where it is not (a minute); both take the same locked, hashed list.
$(READY): requirements.lock pyproject.toml
	@echo "Setting up $(VENV) from requirements.lock ..."
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@if command -v uv >/dev/null 2>&1; then \
		uv pip install --quiet --compile-bytecode --python $(BIN)/python --require-hashes -r requirements.lock && \
		uv pip install --quiet --compile-bytecode --python $(BIN)/python --no-build-isolation --no-deps -e . ; \
	else \
		$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock && \
		$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e . ; \
	fi
	@touch $(READY)

demo: $(READY)
	@$(BIN)/wrackline demo demo

test: $(READY)
	@$(BIN)/python -m pytest -n auto --dist loadfile --no-loadscope-reorder

lint: $(READY)
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy

EVENTS ?= 10000 1000000
bench: $(READY)
	@$(BIN)/python tests/bench/bench.py --events $(EVENTS)
	@$(BIN)/python tests/bench/growth.py build/bench/results.jsonl
	@$(BIN)/python tests/bench/one_file.py

# 200 seeded worlds through the whole pipeline: how often the 95 % intervals hold the truth (4 in the tests).
coverage-check: $(READY)
	@$(BIN)/python tests/whole/coverage_check.py --seeds 200

# A grid of truths, many sites each: the table in DEVELOPERS.md (an hour; one line of it in the tests).
coverage-study: $(READY)
	@$(BIN)/python tests/whole/coverage_study.py

# 100 figures of the demo, chosen by lot, made again from their own rows alone (one in the tests).
evidence-check: $(READY)
	@$(BIN)/python tests/whole/evidence_check.py --figures 100

# A night stopped before and after every step that changes the disk, killed and with the power cut; and 1,000 kills.
stop-check: $(READY)
	@$(BIN)/python tests/whole/stops.py
	@$(BIN)/python tests/whole/stops.py --kills 1000
	@$(BIN)/python tests/whole/care_stops.py

# Ten minutes of bytes nobody wrote on purpose through the reader (a while of it in the tests).
fuzz-check: $(READY)
	@$(BIN)/python tests/whole/fuzz_reader.py --seconds 600

# 90 nights of the demo's drops through Dagster while things go wrong, then one clean build (a few nights in the tests).
night-demo: $(READY)
	@PYTHONPATH=. $(BIN)/python tests/whole/night_demo.py --nights 90 build/night-demo

# Every view and query on Spark beside DuckDB, each by itself and all together (five minutes or ten; needs Java).
spark-check: $(READY)
	@WRACKLINE_SPARK=all $(BIN)/python -m pytest tests/spark -n 0

# What is installed is the locked list and fits together (offline); then the list against published advisories, which
# needs a network: without one that is said, and is no pass. CI calls it with AUDIT=offline or a network.
audit: $(READY)
	@$(BIN)/uv pip check --quiet --python $(BIN)/python
	@$(BIN)/uv pip install --dry-run --offline --require-hashes --python $(BIN)/python -r requirements.lock 2>&1 \
		| grep -q "no changes" || { echo "audit: what is installed is not the locked list"; exit 1; }
	@echo "audit: what is installed is the locked list, and fits together"
	@if [ "$(AUDIT)" = offline ]; then echo "audit: advisories were not asked"; \
		else $(BIN)/uv tool run pip-audit --strict --require-hashes --disable-pip -r requirements.lock; fi

# The lock holds exact versions and hashes for every platform, and no registry's address.
lock: $(READY)
	@$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --group dev \
		--no-header -o requirements.lock pyproject.toml
	@grep -Eq '://' requirements.lock && { echo "requirements.lock names an address"; exit 1; } || true

clean:
	rm -rf $(VENV) demo build .mypy_cache .ruff_cache .hypothesis
