#include "inside.h"

// The latch machine: what is wrong now, what has tripped, which came first,
// and who may clear it.

// The cause stays until reset; the others act only while present.
static bool latches(uint8_t cause) { return warden_matrix[cause].reaction.lock != LOCK_NONE; }

// Combines all that has tripped or is present by the strongest of each column.
// The bit walks along, because shifting 64 bits by a variable is slow on AVR.
static void react(state *s) {
	warden_reaction r = {0};
	uint64_t acting = s->trips | s->present;
	uint64_t bit = 1;
	for (uint8_t cause = 0; cause < NUM_CAUSES; cause++) {
		if ((acting & bit) != 0) {
			r = strongest(r, &warden_matrix[cause].reaction);
		}
		bit <<= 1;
	}
	s->gas = r.gas;
	s->spin = r.spindle;
	s->above = r.above;
	s->touch = r.contact;
	s->lock = r.lock;
}

// Clears what has tripped once no cause of it is present: a local RESET edge
// clears all, the host's request everything but lockout.
static void step_reset(state *s, const input *in) {
	bool edge = has(in, IN_RESET) && s->reset_seen != 0;
	s->reset_seen = 1;
	if (has(in, IN_RESET)) {
		s->reset_seen = 0;
	}
	bool host = in->fresh != 0 && asks(in, REQ_RESET) && s->lock != LOCK_LOCKOUT;
	if ((edge || host) && s->trips != 0 && (s->present & s->trips) == 0) {
		s->trips = 0;
		s->first = CAUSE_NONE;
		s->error_sum = 0;
	}
}

// Takes in what is present now, whatever detected it.
static void latch(state *s, const input *in) {
	uint64_t fresh = s->present & ~s->trips;
	uint64_t bit = 1;
	uint8_t first = CAUSE_NONE;
	for (uint8_t cause = 0; cause < NUM_CAUSES; cause++) {
		if ((fresh & bit) != 0 && latches(cause)) {
			s->trips |= bit;
			if (first == CAUSE_NONE ||
				warden_matrix[cause].priority < warden_matrix[first].priority) {
				first = cause;
			}
		}
		bit <<= 1;
	}
	if (s->first == CAUSE_NONE) {
		s->first = first;
	}
	step_reset(s, in);
	react(s);
	if (s->lock != LOCK_NONE) {
		void_start(s);
	}
}

void step_latch(const config *c, state *s, const input *in) {
	s->present = detect(c, s, in);
	latch(s, in);
}

// Latches a cause outside detect: only at power-up.
void trip(state *s, uint8_t cause) {
	s->trips |= CAUSE_BIT(cause);
	s->first = cause;
	react(s);
}
