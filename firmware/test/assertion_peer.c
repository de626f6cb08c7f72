// warden_step's last assertion as the peer of a Go test: this program brings a
// drive of its own, which leaves any state at all, as decayed memory would.
//
//	D state           a step after which drive has left this state; answers
//	                  state and output
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
	static const warden_config c;
	static const warden_input in;
	for (int command = getchar(); command != EOF; command = getchar()) {
		warden_state s;
		warden_output out;
		switch (command) {
		case 'D':
			take_record(STATE_RECORD, &decayed);
			warden_init(&s, NV_CLEAR);
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
