# Two commands do all the set-up on a fresh Debian machine with Rust and a C compiler:
#   make demo    runs the main job on the example island
#   make test    passes every test
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help

CARGO ?= cargo
DEMO_DIR ?= island
BENCH_AREAS := path study model coverage composite territory simulator workspace

.PHONY: help build web api demo test test-gpu build-gpu test-web fuzz-api measure-gpu lint fmt docs validate crosscheck bench bench-peers $(BENCH_AREAS:%=bench-%) schema clean

help: ## what can be made
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 14

build: ## the program, optimised, in target/release/mastwright
	$(CARGO) build --release --package mastwright

demo: build ## writes the example island to ./island, evaluates it and says where to look
	./target/release/mastwright demo $(DEMO_DIR) --no-open

test: ## every test
	$(CARGO) test --workspace --all-targets
	$(CARGO) test --workspace --doc
	$(MAKE) test-gpu
	$(MAKE) test-web

test-web: ## the page: types and bundle fresh, units, and the workspace used in a real browser
	@if ! node -e 'process.exit(parseInt(process.versions.node) < 20 ? 1 : 0)' 2>/dev/null; then \
	echo "skipped: the page's tests, Node 20 or later is not here"; else $(MAKE) --no-print-directory test-web-here; fi

# A registry may stumble: what the page is built with is asked for three times.
web/node_modules/.complete: web/package-lock.json
	cd web && { for try in 1 2 3; do npm ci --no-audit --no-fund --silent && exit 0; sleep $$try; done; \
	echo "the page's packages cannot be had (npm ci in web/)"; exit 1; }
	touch $@

.PHONY: test-web-here
test-web-here: web/node_modules/.complete
	cd web && npx openapi-typescript ../docs/api/openapi.json -o node_modules/.types.gen.ts >/dev/null
	cmp web/node_modules/.types.gen.ts web/src/api/types.gen.ts || { echo "src/api/types.gen.ts is not what docs/api/openapi.json says: npm --prefix web run types"; exit 1; }
	cd web && npm run --silent build >/dev/null
	diff -rq web/dist crates/server/page || { echo "crates/server/page is not the page of web/: make web"; exit 1; }
	npm --prefix web run --silent test
	$(CARGO) build --quiet --package mastwright
	npm --prefix web run --silent e2e

test-gpu: ## the graphics processor against the processor, on whatever adapter is here
	$(CARGO) clippy --package mastwright-gpu --features device --all-targets -- -D warnings
	$(CARGO) test --package mastwright-gpu --features device
	$(CARGO) clippy --package mastwright --features gpu --all-targets -- -D warnings
	$(CARGO) test --package mastwright --features gpu --test e2e graphics

build-gpu: ## the program with `cover --gpu`
	$(CARGO) build --release --package mastwright --features gpu

measure-gpu: ## cells per second of the graphics adapter that is here
	$(CARGO) run --release --quiet --package mastwright-gpu --features device --example measure

lint: ## format, compiler, clippy, rustdoc and licences, warnings as errors
	$(CARGO) fmt --all --check
	$(CARGO) clippy --workspace --all-targets -- -D warnings
	RUSTDOCFLAGS="-D warnings" $(CARGO) doc --workspace --no-deps --quiet
	@if command -v cargo-deny >/dev/null; then $(CARGO) deny check licenses bans sources; \
	else echo "cargo-deny is not installed: licences were not checked (cargo install cargo-deny --locked)"; fi

fmt: ## formats the code
	$(CARGO) fmt --all

docs: ## the code's documentation in target/doc
	$(CARGO) doc --workspace --no-deps

validate: ## writes docs/VALIDATION.md anew: every model against its reference tables
	$(CARGO) run --quiet --package mastwright-validation

crosscheck: ## compares rain and gases with the general-purpose Python library itur
	$(CARGO) build --quiet --package mastwright
	python3 validation/itur/crosscheck.py target/debug/mastwright $(CROSSCHECK)

fuzz-api: ## sends the workspace what its description allows and forbids, with the general-purpose fuzzer schemathesis
	$(CARGO) build --quiet --package mastwright
	python3 validation/api/fuzz.py target/debug/mastwright $(FUZZ)

bench: ## measures every area, prints a table, writes bench/results.json and docs/PERFORMANCE.md
	$(CARGO) run --release --quiet --package mastwright-bench -- $(BENCH_AREAS)

bench bench-territory: build

$(BENCH_AREAS:%=bench-%): bench-%: ## one area: bench-path, bench-study, bench-model, bench-coverage, bench-composite
	$(CARGO) run --release --quiet --package mastwright-bench -- $*

bench-peers: ## the sweep beside pycraf (installed into target/peers) and GDAL's viewshed (gdal-bin)
	@command -v gdal_viewshed >/dev/null || { echo "gdal_viewshed is not installed (Debian: gdal-bin)"; exit 1; }
	@test -x target/peers/bin/python || python3 -m venv target/peers
	target/peers/bin/pip install --quiet --disable-pip-version-check pycraf==2.1.0
	$(CARGO) run --release --quiet --package mastwright-bench -- peers

schema: ## writes schemas/design.schema.json anew from the code
	MASTWRIGHT_BLESS=1 $(CARGO) test --package mastwright-design --quiet schema

api: ## writes docs/api/openapi.json anew from the code
	MASTWRIGHT_BLESS=1 $(CARGO) test --package mastwright-server --quiet --test description

web: web/node_modules/.complete ## builds the page from web/ into crates/server/page (needs Node)
	cd web && npm run build
	rm -rf crates/server/page && cp -r web/dist crates/server/page

clean: ## removes what was built
	$(CARGO) clean
