#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

// At 60 mm/s and 0.01 mm a count there are 6 edges a millisecond.
// Only the two interrupts, which do not interrupt each other, and code with
// interrupts off touch it: no need to be volatile.
static encoder press;

ISR(INT0_vect) { encoder_step(&press, PIND); }
ISR(INT1_vect, ISR_ALIASOF(INT0_vect));

void travel_start(void) {
	EICRA = 1 << ISC00 | 1 << ISC10; // any edge
	EIFR = 3;
	encoder_start(&press, PIND);
	EIMSK = 3;
}

encoder travel_now(void) {
	encoder e;
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { e = press; }
	return e;
}
