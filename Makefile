# pressrig: the README's two commands are `make demo` and `make test`.
SHELL       := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c

STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
SUDO        := $(if $(filter 0,$(shell id -u)),,sudo)
# What the tests need from Debian: a second MQTT broker to test against, a C
# compiler for the race detector, and strace to fail the journal's file
# operations.
DEBS        := mosquitto gcc libc6-dev strace
# Tests take their full counts in every target; a plain go test takes few.
export PRESSRIG_TESTS := full

# Go does not see that a C file outside the package has changed; this tells it.
OBJECT = CGO_CFLAGS="-O2 -DSOURCES=$$(cat firmware/core/*.[ch] firmware/hal/*.[ch] | cksum | cut -d' ' -f1)"

.PHONY: build demo test tools fmt check bench fuzz traces processes crash explore unstarted parsers mutants mutants-c campaign explore-core prove-core test-firmware firmware firmware-image rig-emulated

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
	go vet -tags processes,avr,prove ./...
	bin/staticcheck -tags processes,avr,prove ./...

# The race detector has nothing to find in a child that fails file operations,
# and makes each of its many starts slow.
test: DEBS += gcc-avr avr-libc binutils-avr libsimavr-dev libelf-dev clang libclang-rt-14-dev cppcheck
test: tools check build ## everything, at most 15 minutes on 2 cores
	go test -timeout 14m ./...
	go test -timeout 14m -run OneFault ./proof -every 1
	$(OBJECT) go test -tags object -skip Seeded ./firmware/object
	$(OBJECT) go test -tags object -run Explore ./safety/warden
	CGO_ENABLED=1 go test -race -skip 'EveryFileOperation|FailedSync' -timeout 14m ./controller/... ./drivers/... ./journal/... ./telemetry/... ./panel/...
	go test -tags avr -count 1 -timeout 14m -run 'Wires|TestResets|Pulse|FlameLost|EmergencyStop|LeaseExpiry' ./firmware/emulated
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

unstarted: ## everything but START, breadth first from nine beginnings: nothing moves or heats but what docs/safety.md lists; 10 minutes at most
	go test ./controller -run NothingWithoutStart -v -timeout 30m -states 12000

# What strangers may send: frames, recipes, profiles, API bodies, MQTT, packed
# traces, journal files.
PARSERS := drivers/wire:FuzzDecode recipes:FuzzParse rig:FuzzParseProfile panel:FuzzRequestBody \
           rehearse/fit:FuzzDecode telemetry:FuzzGuard journal/chunk:FuzzDecode journal:FuzzJournalFile \
           firmware/image:FuzzReadHex pieces:FuzzParse \
           glass:FuzzParse glass:FuzzParseComposition glass:FuzzParsePoints
# A count, because a target that is in the middle of an input when its time is up fails.
parsers: FUZZTIME = 1000x
parsers: ## the fuzz targets of what comes from outside; FUZZTIME=10m for long
	@for p in $(PARSERS); do \
	  echo "$$p for $(FUZZTIME)"; \
	  go test -run '^$$' -fuzz "^$${p#*:}$$" -fuzztime $(FUZZTIME) ./$${p%:*}; \
	done

explore-core: tools ## the same states through the compiled C core in place of the specification
	$(OBJECT) go test -tags object ./firmware/object
	$(OBJECT) go test -tags object ./safety/warden -run Explore -v -timeout 60m -full

# Frama-C's provers have to be found once for each user.
prove-core: DEBS += frama-c-base why3 z3 cvc4
prove-core: tools ## the contracts in firmware/core, proved; and faults in it, not proved
	why3 config detect
	sed -i 's/^memlimit = .*/memlimit = 4000/' ~/.why3.conf
	go test -tags prove -count 1 -timeout 60m -v -run Prove ./firmware

mutants: ## weakens one rule of the warden at a time; the tests must catch every one
	go run ./safety/mutants

mutants-c: tools ## changes one thing of the C core at a time; the recorded tapes must catch every one
	go run ./firmware/mutants

campaign: build ## every fault in every phase, all pairs of the worst, 10,000 random compounds
	./bin/pressrig campaign --runs 10000 --save bin/campaign.json

# The image for the microcontroller: the same bytes every time, wherever it is
# built.
ELF          ?= bin/firmware/mega2560.elf
AVR_CC       := avr-gcc
AVR_CFLAGS   := -mmcu=atmega2560 -DF_CPU=16000000UL -std=c99 -O3 -funroll-loops -fno-tree-ter -fno-inline-functions-called-once -flto -fno-fat-lto-objects -frandom-seed=pressrig -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Werror \
                -ffunction-sections -fdata-sections -fno-common -mrelax
FIRMWARE_C   := $(sort $(wildcard firmware/core/*.c firmware/hal/*.c firmware/boards/mega2560/*.c))
firmware: DEBS += gcc-avr avr-libc binutils-avr
firmware: tools ## the microcontroller's image, bin/firmware/mega2560.hex
	@mkdir -p $(dir $(ELF))
	$(AVR_CC) $(AVR_CFLAGS) -Wl,--gc-sections -o $(ELF) $(FIRMWARE_C)
	avr-objcopy -O ihex -R .eeprom $(ELF) $(ELF:.elf=.hex)
	avr-size $(ELF)

# The program that every pressrig carries for the board: refresh it after each
# change of the firmware; a test builds it again and wants the same bytes.
firmware-image: firmware ## the image into firmware/image, with its SHA-256
	cp $(ELF:.elf=.hex) firmware/image/mega2560.hex
	sha256sum < firmware/image/mega2560.hex | cut -d' ' -f1 > firmware/image/mega2560.sha256

# The microcontroller's compiler and an emulator of it.
test-firmware: DEBS += gcc-avr avr-libc libsimavr-dev libelf-dev clang libclang-rt-14-dev cppcheck
test-firmware: tools ## the C firmware against its specification, on the host and on the emulated Mega
	go test -tags avr -count 1 -timeout 60m -v ./firmware -steps 1000000
	go test -tags avr -count 1 -timeout 60m -v ./firmware/emulated
	go test -tags processes,avr -count 1 -timeout 90m -v -run ImageWithTheDaemon ./cmd/pressrig

# The image behind a pseudo-terminal, for: pressrig serve --rig rig/profiles/driven.yaml --port bin/mega
rig-emulated: DEBS += gcc-avr avr-libc libsimavr-dev libelf-dev
rig-emulated: tools firmware ## the firmware in an emulated Mega, in real time, at bin/mega
	cc -std=gnu99 -O2 -Wall -Wextra -Werror -o bin/emulated-board firmware/emulated/sim/*.c -lsimavr
	go build -o bin/emulated-rig ./firmware/emulated/rig
	./bin/emulated-rig --emulator bin/emulated-board --image $(ELF) --port-link bin/mega --state bin/emulated --operator

FUZZTIME ?= 20s
fuzz: ## every fuzz target for FUZZTIME
	@for pkg in $$(go list ./...); do \
	  for f in $$(go test -list '^Fuzz' $$pkg | grep '^Fuzz' || true); do \
	    echo "$$pkg $$f"; go test -run '^$$' -fuzz "^$$f$$" -fuzztime $(FUZZTIME) $$pkg; \
	  done; \
	done

fmt:
	gofmt -w $$(git ls-files '*.go')
