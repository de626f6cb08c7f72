// The C wire as the peer of a Go test: commands on stdin, answers on stdout.
// A header is device, own session, host session, sequence number.
//
//	N device session      a new receiver
//	B now n bytes         n bytes from the line; answers each verdict with what
//	                      was read, then 0, then all that the receiver counts
//	H header hello        answers the frame, its length first
//	S header snapshot     the same
//	E header code value stamp
//	P header index config the same; length 0 when there is no such piece
//	K config              answers its hash
//	O header n class payload  begins a frame on a line of n bytes and ends it;
//	                      answers the length after each, then the line
//	F                     flushes stdout
#include <stdio.h>

#include "../core/wire_inside.h"
#include "records.h"

static void give_frame(uint8_t verdict, const wire_frame *f) {
	give_number(verdict, 1);
	if (verdict != WIRE_ACCEPTED) {
		return;
	}
	give_number(f->class, 1);
	give_number(f->header.seq, 2);
	give_number(f->new_session, 1);
	if (f->class == WIRE_REQUEST) {
		give_number(f->echo_ms, 4);
		give_record(REQUEST_RECORD, &f->want);
	}
	if (f->class == WIRE_PARAMETERS_REQUEST) {
		give_number(f->index, 1);
	}
}

static void bytes_came(wire_receiver *r) {
	wire_frame f = {0};
	uint32_t now_ms = take_number(4);
	for (uint32_t n = take_number(2); n > 0; n--) {
		uint8_t verdict = wire_receive(r, (uint8_t)take_number(1), now_ms, &f);
		if (verdict != WIRE_NO_FRAME) {
			give_frame(verdict, &f);
		}
	}
	give_number(0, 1);
	for (size_t i = 0; i < WIRE_NUM_VERDICT; i++) {
		give_number(r->counts[i], 4);
	}
	give_number(r->gaps, 4);
	give_number(r->peer, 4);
	give_number(r->seq, 2);
	give_number(wire_silent(r, now_ms), 1);
}

static wire_header take_header(void) {
	wire_header h;
	h.device = (uint16_t)take_number(2);
	h.mcu_session = take_number(4);
	h.host_session = take_number(4);
	h.seq = (uint16_t)take_number(2);
	return h;
}

static void put(int command) {
	wire_line line = {.n = 77}; // left from another frame
	wire_header h = take_header();
	wire_hello hello;
	wire_snapshot snapshot;
	warden_config c;
	uint32_t code, value;
	uint8_t index;
	switch (command) {
	case 'H':
		take_record(HELLO_RECORD, &hello);
		wire_put_hello(&line, &h, &hello);
		break;
	case 'S':
		take_record(SNAPSHOT_RECORD, &snapshot);
		wire_put_snapshot(&line, &h, &snapshot);
		break;
	case 'E':
		code = take_number(2);
		value = take_number(4);
		wire_put_event(&line, &h, (uint16_t)code, value, take_number(4));
		break;
	default:
		index = (uint8_t)take_number(1);
		take_record(CONFIG_RECORD, &c);
		if (wire_put_parameters(&line, &h, &c, index) != (line.n > 0)) {
			die("wire_put_parameters says other than it does");
		}
	}
	give_number(line.n, 1);
	give_bytes(line.bytes, line.n);
}

static void fill(void) {
	wire_line line = {.n = 0};
	wire_header h = take_header();
	uint8_t start = (uint8_t)take_number(1);
	for (line.n = 0; line.n < start; line.n++) {
		line.bytes[line.n] = 7;
	}
	uint8_t class = (uint8_t)take_number(1);
	begin_frame(&line, &h, class, (uint8_t)take_number(1));
	give_number(line.n, 1);
	end_frame(&line, start);
	give_number(line.n, 1);
	give_bytes(line.bytes, line.n);
}

int main(void) {
	static wire_receiver r;
	warden_config c;
	uint32_t device;
	for (int command = getchar(); command != EOF; command = getchar()) {
		switch (command) {
		case 'N':
			device = take_number(2);
			wire_start(&r, (uint16_t)device, take_number(4));
			break;
		case 'B':
			bytes_came(&r);
			break;
		case 'H':
		case 'S':
		case 'E':
		case 'P':
			put(command);
			break;
		case 'O':
			fill();
			break;
		case 'K':
			take_record(CONFIG_RECORD, &c);
			give_number(wire_config_hash(&c), 4);
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
