// warden_step's last word as the peer of a Go test: this program brings a drive
// of its own, which leaves any state at all, as decayed memory would.
//
//	C config          for the steps that follow
//	I input           for the steps that follow
//	D before, state   a step from before, after which drive has left state;
//	                  answers state and output
//	F                 flushes stdout
#include <stdio.h>

#include "../core/inside.h"
#include "records.h"

static warden_state decayed;

void drive(const config *c, state *s, const input *in) {
	(void)c;
	(void)in;
	*s = decayed;
}

int main(void) {
	static warden_config c;
	static warden_input in;
	for (int command = getchar(); command != EOF; command = getchar()) {
		warden_state s;
		warden_output out;
		switch (command) {
		case 'C':
			take_record(CONFIG_RECORD, &c);
			break;
		case 'I':
			take_record(INPUT_RECORD, &in);
			break;
		case 'D':
			take_record(STATE_RECORD, &s);
			take_record(STATE_RECORD, &decayed);
			warden_step(&c, &s, &in, &out);
			give_record(STATE_RECORD, &s);
			give_record(OUTPUT_RECORD, &out);
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
