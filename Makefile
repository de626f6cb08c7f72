# pressrig: the README's two commands are `make demo` and `make test`.
SHELL       := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c

STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
SUDO        := $(if $(filter 0,$(shell id -u)),,sudo)
# What the tests need from Debian: a second MQTT broker to test against, a C
# compiler for the race detector, and strace to fail the journal's file
# operations.
DEBS        := mosquitto gcc libc6-dev strace

.PHONY: build demo test tools fmt check bench fuzz traces processes crash explore parsers mutants campaign test-firmware

build: ## one static binary
	CGO_ENABLED=0 go build -trimpath -o bin/pressrig ./cmd/pressrig

demo: build ## the main job on the simulated rig; Ctrl-C ends it
	./bin/pressrig demo

tools: bin/staticcheck
	@missing=(); for p in $(DEBS); do dpkg -s $$p >/dev/null 2>&1 || missing+=($$p); done; \
	if [ $${#missing[@]} -gt 0 ]; then \
	  $(SUDO) apt-get update -q && \
	  $(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $${missing[@]}; \
	fi

bin/staticcheck:
	GOBIN=$(CURDIR)/bin go install $(STATICCHECK)

check: bin/staticcheck ## formatter, vet, staticcheck
	@bad=$$(gofmt -l $$(git ls-files '*.go')); [ -z "$$bad" ] || { echo "not formatted: $$bad"; exit 1; }
	go vet -tags processes,avr ./...
	bin/staticcheck -tags processes,avr ./...

# The race detector has nothing to find in a child that fails file operations,
# and makes each of its many starts slow.
test: tools check build ## everything, at most 15 minutes on 2 cores
	go test -timeout 14m ./...
	CGO_ENABLED=1 go test -race -skip 'EveryFileOperation|FailedSync' -timeout 14m ./controller/... ./drivers/... ./journal/... ./telemetry/... ./panel/...
	$(MAKE) --no-print-directory parsers

bench: ## benchmarks; timings are ratios to a floor measured in the same run
	go test -run '^$$' -bench . -benchtime 1s ./...

processes: ## real processes killed, stopped and cut; wants an idle machine
	go test -tags processes -timeout 30m ./cmd/pressrig

crash: ## every file operation of the journal fails once, the daemon is killed 200 times
	go test -run "EveryFileOperation|FailedSync" -timeout 30m -v ./journal -every 1
	go test -tags processes -run KilledAtRandom -timeout 60m -v ./cmd/pressrig -kills 200

traces: ## 2,200 random traces through machine, wire, warden and plant, each hold point and supervisor row 100 times
	go test -run 'Simulated' -timeout 60m -v ./rehearse -seeds 2200

explore: ## every state of the warden's machines at production constants, and of their product
	go test ./safety/warden -run Explore -v -timeout 60m -full

# What strangers may send: frames, recipes, profiles, API bodies, MQTT, packed
# traces, journal files.
PARSERS := drivers/wire:FuzzDecode recipes:FuzzParse rig:FuzzParseProfile panel:FuzzRequestBody \
           telemetry:FuzzGuard journal/chunk:FuzzDecode journal:FuzzJournalFile \
           firmware/image:FuzzReadHex
parsers: FUZZTIME = 3s
parsers: ## the fuzz targets of what comes from outside; FUZZTIME=10m for long
	@for p in $(PARSERS); do \
	  echo "$$p for $(FUZZTIME)"; \
	  go test -run '^$$' -fuzz "^$${p#*:}$$" -fuzztime $(FUZZTIME) ./$${p%:*}; \
	done

mutants: ## weakens one rule of the warden at a time; the tests must catch every one
	go run ./safety/mutants

campaign: build ## every fault in every phase, all pairs of the worst, 10,000 random compounds
	./bin/pressrig campaign --runs 10000 --save bin/campaign.json

# The microcontroller's compiler and an emulator of it.
test-firmware: DEBS += gcc-avr avr-libc libsimavr-dev libelf-dev
test-firmware: tools ## the C firmware against its specification, on the host and on the emulated Mega
	go test -tags avr -count 1 -timeout 60m -v ./firmware -steps 1000000

FUZZTIME ?= 20s
fuzz: ## every fuzz target for FUZZTIME
	@for pkg in $$(go list ./...); do \
	  for f in $$(go test -list '^Fuzz' $$pkg | grep '^Fuzz' || true); do \
	    echo "$$pkg $$f"; go test -run '^$$' -fuzz "^$$f$$" -fuzztime $(FUZZTIME) $$pkg; \
	  done; \
	done

fmt:
	gofmt -w $$(git ls-files '*.go')
