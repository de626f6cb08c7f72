#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

// At 60 mm/s and 0.01 mm a count there are 6 edges a millisecond.
static volatile encoder press;

static void edge(void) {
	uint8_t d = PIND;
	encoder e = press;
	encoder_step(&e, (d & 1) != 0, (d & 2) != 0);
	press = e;
}

ISR(INT0_vect) { edge(); }
ISR(INT1_vect) { edge(); }

void travel_start(void) {
	EICRA = 1 << ISC00 | 1 << ISC10; // any edge
	EIFR = 3;
	travel_zero();
	EIMSK = 3;
}

encoder travel_now(void) {
	encoder e;
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { e = press; }
	return e;
}

void travel_zero(void) {
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
		encoder e;
		encoder_start(&e, (PIND & 1) != 0, (PIND & 2) != 0);
		press = e;
	}
}
