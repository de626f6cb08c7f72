// The C warden as the peer of a Go test: commands on stdin, answers on stdout.
//
//	C config          takes a configuration
//	S state           takes a state
//	I nv              warden_init; answers the state
//	T input           warden_step; answers state, output, view free, may
//	                  stroke, unburnt limit
//	B bits            warden_step_filter on a filter of its own; answers the bits
//	Z                 that filter as at power-up
//	M                 answers the matrix, row by row
//	F                 flushes stdout
#include <stdio.h>

#include "records.h"

static void tick(const warden_config *c, warden_state *s) {
	warden_input in;
	warden_output out;
	take_record(INPUT_RECORD, &in);
	warden_step(c, s, &in, &out);
	give_record(STATE_RECORD, s);
	give_record(OUTPUT_RECORD, &out);
	give_number(warden_view_free(c, s, &in), 1);
	give_number(warden_may_stroke(c, s, &in), 1);
	give_number(warden_unburnt_limit(c), 4);
}

static void filter(warden_filter *f) {
	warden_input in = {.bits = take_number(4)};
	warden_step_filter(f, &in);
	give_number(in.bits, 4);
}

static void give_matrix(void) {
	for (size_t i = 0; i < NUM_CAUSES; i++) {
		const warden_row *row = &warden_matrix[i];
		give_number(row->reaction.gas, 1);
		give_number(row->reaction.spindle, 1);
		give_number(row->reaction.above, 1);
		give_number(row->reaction.contact, 1);
		give_number(row->reaction.lock, 1);
		give_number(row->priority, 1);
	}
}

int main(void) {
	static warden_config c;
	static warden_state s;
	static warden_filter f;
	for (int command = getchar(); command != EOF; command = getchar()) {
		switch (command) {
		case 'C':
			take_record(CONFIG_RECORD, &c);
			break;
		case 'S':
			take_record(STATE_RECORD, &s);
			break;
		case 'I':
			warden_init(&s, (uint8_t)take_number(1));
			give_record(STATE_RECORD, &s);
			break;
		case 'T':
			tick(&c, &s);
			break;
		case 'B':
			filter(&f);
			break;
		case 'Z':
			f = (warden_filter){0};
			break;
		case 'M':
			give_matrix();
			break;
		case 'F':
			fflush(stdout);
			break;
		default:
			die("unknown command");
		}
	}
	return 0;
}
