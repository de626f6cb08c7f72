#include "inside.h"

// The latch machine: what is wrong now, what has tripped, which came first,
// and who may clear it.

#define HALF 32

static uint32_t low_half(uint64_t set) { return (uint32_t)(set & UINT32_MAX); }

static uint32_t high_half(uint64_t set) { return (uint32_t)(set >> HALF); }

// The cause stays until reset; the others act only while present.
static bool latches(uint8_t cause) { return warden_matrix[cause].reaction.lock != LOCK_NONE; }

// The sets are walked in halves of 32 causes, a bit at a time, because shifting
// 64 bits takes hundreds of cycles on AVR and this is the longest part of a step.

// Takes the rows of one half of the acting causes into r; from is the cause of
// bit 0.
static void combine(warden_reaction *r, uint32_t acting, uint8_t from) {
	for (uint8_t cause = from; cause < NUM_CAUSES && acting != 0; cause++) {
		if ((acting & 1u) != 0) {
			strongest(r, &warden_matrix[cause].reaction);
		}
		acting >>= 1;
	}
}

// Combines all that has tripped or is present by the strongest of each column.
static void react(state *s) {
	warden_reaction r = {0};
	uint64_t acting = s->trips | s->present;
	combine(&r, low_half(acting), 0);
	combine(&r, high_half(acting), HALF);
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

// The causes of one half that latch; first becomes the one that ranks highest.
static uint32_t latching(uint32_t fresh, uint8_t from, uint8_t *first) {
	uint32_t set = 0;
	uint32_t bit = 1;
	for (uint8_t cause = from; cause < NUM_CAUSES && fresh != 0; cause++) {
		if ((fresh & 1u) != 0 && latches(cause)) {
			set |= bit;
			if (*first == CAUSE_NONE ||
				warden_matrix[cause].priority < warden_matrix[*first].priority) {
				*first = cause;
			}
		}
		fresh >>= 1;
		bit <<= 1;
	}
	return set;
}

// Takes in what is present now, whatever detected it.
static void latch(state *s, const input *in) {
	uint64_t fresh = s->present & ~s->trips;
	uint8_t first = CAUSE_NONE;
	uint32_t low = latching(low_half(fresh), 0, &first);
	uint32_t high = latching(high_half(fresh), HALF, &first);
	s->trips |= (uint64_t)high << HALF | low;
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
