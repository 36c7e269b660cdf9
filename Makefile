# Icehand: `make run` shows the main job on the demo, `make test` checks everything. Needs Go, make and git.

GO ?= go
BIN := bin/icehand
VERSION := $(shell git describe --tags --always --dirty 2>/dev/null || echo unversioned)
TOOL := $(GO) tool -modfile=tools.mod

.PHONY: run build phone test check bench soak generate generated clean

## run: build and start the demo; prints its address
run: build
	./$(BIN) demo

# The phone's program is built without inlining, which packs a sixteenth smaller, save where figures are worked out.
SMALL := -gcflags=all=-l $(addprefix -gcflags=,$(addsuffix /...=,runtime internal/runtime math icehand/internal/base icehand/internal/physics icehand/internal/stats icehand/internal/engine gonum.org))

## phone: the program that the phone's browser runs, packed for the way there (PACK=11 packs smallest, in minutes)
phone:
	GOOS=js GOARCH=wasm $(GO) build -trimpath $(SMALL) -ldflags "-s -w" -o bin/icehand.wasm ./cmd/icehand-phone
	cp "$$($(GO) env GOROOT)/lib/wasm/wasm_exec.js" web/dist/wasm_exec.js
	$(GO) run ./scripts/pack bin/icehand.wasm web/dist/icehand.wasm.br $(PACK)

## build: the one binary
build: phone
	$(GO) build -trimpath -ldflags "-X main.version=$(VERSION)" -o $(BIN) ./cmd/icehand

## check: vet, guard and unit tests, for daily use (under 2 minutes)
check:
	$(GO) vet ./...
	$(GO) test -short ./...

## test: everything (under 15 minutes); installs the test browser where it may
test: build
	./scripts/test-browser
	$(GO) vet ./...
	$(MAKE) --no-print-directory generated
	ICEHAND_BROWSER=$$(./scripts/test-browser --path) ICEHAND_PHONE=$(CURDIR)/web/dist $(GO) test -timeout 20m ./...
	$(GO) test -race -short ./internal/keep/... ./internal/host/desk/... ./internal/trade/...
	./scripts/fuzz 5s
	./$(BIN) selfcheck

## bench: all benchmarks, ten runs each; compare with: go tool -modfile=tools.mod benchstat OLD NEW
bench:
	$(GO) test -run '^$$' -bench . -benchmem -count $${COUNT:-10} ./internal/... | tee bin/bench.txt
	ICEHAND_MEASURE=1 $(GO) test -run TestPhoneSpeed -v ./internal/host/serve | tee bin/bench-phone.txt

## soak: the long runs: kills, fuzzing for 10 minutes a target, a million entries
soak: build
	ICEHAND_SOAK=1 $(GO) test -timeout 3h ./internal/keep/... ./internal/host/... ./internal/trade/... ./internal/sim/...
	./scripts/fuzz 10m

## generate: write generated Go files anew
generate:
	$(TOOL) templ generate -path internal/host/web
	$(TOOL) templ generate -path internal/host/rehearsal
	$(TOOL) templ generate -path internal/engine/share
	$(TOOL) templ generate -path internal/host/report
	$(TOOL) templ generate -path internal/host/paper
	$(TOOL) templ generate -path internal/host/phone
	$(TOOL) templ generate -path internal/host/importing
	$(GO) run ./scripts/retarget internal/host/web internal/host/rehearsal internal/engine/share internal/host/report internal/host/paper internal/host/phone internal/host/importing

## generated: fail when generated files are not fresh
generated: generate
	@git diff --exit-code --stat -- '*_templ.go' || { echo "generated files are stale: run make generate and commit them"; exit 1; }

clean:
	rm -rf bin dist
