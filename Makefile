# Targets; "make help" lists them.
GO ?= go
VERSION ?= dev
export CGO_ENABLED = 0

help: ## list the targets
	@grep -E '^[a-z-]+:.*##' Makefile | sed 's/:.*## /\t/'

build: ## one static binary, ./sightrail
	$(GO) build -trimpath -ldflags "-s -w -X main.version=$(VERSION)" -o sightrail ./cmd/sightrail

demo: build ## run the demo job and compare with testdata/jobs/demo/want
	@sh testdata/jobs/demo.sh ./sightrail out/demo

test: ## all tests
	$(GO) vet ./...
	$(GO) test ./...

lint: ## gofmt, vet, staticcheck
	@test -z "$$(gofmt -l .)" || { gofmt -l .; echo "gofmt: these files are not formatted"; exit 1; }
	$(GO) vet ./...
	$(GO) tool -modfile=.ci/tools.mod staticcheck ./...

race: ## the race detector where it pays
	CGO_ENABLED=1 $(GO) test -race ./formats/... ./convert/... ./qa/... ./cmd/...

fuzz: ## every decoder, FUZZTIME each
	@for p in landxml:FuzzDecode csvfile:FuzzDecode csvfile:FuzzPlain geojson:FuzzDecode xlsx:FuzzDecode xlsx:FuzzSheet; do \
	  $(GO) test ./formats/$${p%%:*} -run '^$$' -fuzz "^$${p##*:}$$" -fuzztime $(or $(FUZZTIME),20s) -fuzzminimizetime 100x || exit 1; done

golden: ## write the golden texts anew, to be read before they are kept
	SIGHTRAIL_GOLDEN=1 $(GO) test ./cmd/sightrail -run Golden -count=1

interop: ## outside witnesses: xmllint, GDAL, PROJ, LibreOffice (and ../shared)
	bash .ci/interop

bench: ## benchmarks of every stage
	$(GO) test ./... -run '^$$' -bench . -benchmem

bench-table: build ## the table of DEVELOPERS.md: BENCH is a scratch copy of ../shared/bench with its data and floors
	python3 .ci/bench-table ./sightrail $(or $(BENCH),../bench)

scale: build ## memory does not grow: ten thousand to ten million points through a pipe
	python3 .ci/scale ./sightrail

cover: ## coverage of all packages
	$(GO) test ./... -cover

.PHONY: help build demo test lint race fuzz golden interop bench bench-table scale cover
