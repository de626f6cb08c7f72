// The C warden as the peer of a Go test: commands on stdin, results on stdout.
//
//	C config          takes a configuration
//	S state           takes a state
//	I nv              warden_init; answers the state
//	T input           warden_step; answers state, output, view free, may
//	                  stroke, unburnt limit
//	F                 flushes stdout
//
// Anything else ends it with a message and exit code 2.
#include <stdio.h>
#include <stdlib.h>

#include "records.h"

static void die(const char *what) {
	fprintf(stderr, "peer: %s\n", what);
	exit(2);
}

static void take(record of, void *to) {
	uint8_t bytes[RECORD_MAX];
	size_t size = record_size(of);
	if (size > sizeof bytes || fread(bytes, 1, size, stdin) != size) {
		die("input ends within a record");
	}
	unpack(of, to, bytes);
}

static void put(const uint8_t *bytes, size_t size) {
	if (fwrite(bytes, 1, size, stdout) != size) {
		die("cannot write");
	}
}

static void give(record of, const void *from) {
	uint8_t bytes[RECORD_MAX];
	pack(of, from, bytes);
	put(bytes, record_size(of));
}

static void tick(const warden_config *c, warden_state *s) {
	warden_input in;
	warden_output out;
	take(INPUT_RECORD, &in);
	warden_step(c, s, &in, &out);
	give(STATE_RECORD, s);
	give(OUTPUT_RECORD, &out);
	uint32_t limit = warden_unburnt_limit(c);
	uint8_t report[6] = {warden_view_free(c, s, &in), warden_may_stroke(c, s, &in),
		(uint8_t)limit, (uint8_t)(limit >> 8), (uint8_t)(limit >> 16), (uint8_t)(limit >> 24)};
	put(report, sizeof report);
}

int main(void) {
	static warden_config c;
	static warden_state s;
	for (int command = getchar(); command != EOF; command = getchar()) {
		int nv;
		switch (command) {
		case 'C':
			take(CONFIG_RECORD, &c);
			break;
		case 'S':
			take(STATE_RECORD, &s);
			break;
		case 'I':
			nv = getchar();
			if (nv == EOF) {
				die("input ends within a record");
			}
			warden_init(&s, (uint8_t)nv);
			give(STATE_RECORD, &s);
			break;
		case 'T':
			tick(&c, &s);
			break;
		case 'F':
			if (fflush(stdout) != 0) {
				die("cannot write");
			}
			break;
		default:
			die("unknown command");
		}
	}
	return 0;
}
