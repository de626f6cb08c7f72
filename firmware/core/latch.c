#include "inside.h"

// The latch machine: what is wrong now, what has tripped, which came first,
// and who may clear it.

// A set with more causes than bits here does not compile.
typedef int8_t every_cause_has_a_bit[NUM_CAUSES <= 8 * SET_BYTES ? 1 : -1];

//@ requires \valid(bytes + (0 .. 6)); assigns bytes[0 .. 6];
static void bytes_of(uint64_t set, uint8_t *bytes) {
	uint32_t low = (uint32_t)(set & UINT32_MAX);
	uint32_t high = (uint32_t)(set >> 32 & UINT32_MAX);
	bytes[0] = (uint8_t)(low & 0xFFu);
	bytes[1] = (uint8_t)(low >> 8 & 0xFFu);
	bytes[2] = (uint8_t)(low >> 16 & 0xFFu);
	bytes[3] = (uint8_t)(low >> 24);
	bytes[4] = (uint8_t)(high & 0xFFu);
	bytes[5] = (uint8_t)(high >> 8 & 0xFFu);
	bytes[6] = (uint8_t)(high >> 16 & 0xFFu);
}

//@ requires \valid_read(b + (0 .. 6)); assigns \nothing;
static uint64_t set_of(const uint8_t *b) {
	uint32_t low = (uint32_t)b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
	uint32_t high = (uint32_t)b[4] | (uint32_t)b[5] << 8 | (uint32_t)b[6] << 16;
	return (uint64_t)high << 32 | low;
}

// The cause stays until reset; the others act only while present.
//@ assigns \nothing;
static bool latches(uint8_t cause) { return warden_matrix[cause].reaction.lock != LOCK_NONE; }

// Takes the rows of one byte of the acting causes into r; from is the cause of
// bit 0.
//@ requires \valid(r); assigns *r;
static void combine(warden_reaction *r, uint8_t acting, uint8_t from) {
	//@ loop assigns cause, acting, *r; loop variant 256 - cause;
	for (uint8_t cause = from; cause < NUM_CAUSES && acting != 0; cause++) {
		if ((acting & 1u) != 0) {
			strongest(r, &warden_matrix[cause].reaction);
		}
		acting >>= 1;
	}
}

// Combines all that has tripped or is present by the strongest of each column.
//@ requires \valid(s); assigns s->gas, s->spin, s->above, s->touch, s->lock;
static void react(state *s) {
	warden_reaction r = {0};
	uint64_t set = s->trips | s->present;
	if (set != 0) {
		uint8_t acting[SET_BYTES];
		bytes_of(set, acting);
		//@ loop invariant i <= SET_BYTES; loop assigns i, r; loop variant SET_BYTES - i;
		for (uint8_t i = 0; i < SET_BYTES; i++) {
			combine(&r, acting[i], (uint8_t)(i << 3));
		}
	}
	s->gas = r.gas;
	s->spin = r.spindle;
	s->above = r.above;
	s->touch = r.contact;
	s->lock = r.lock;
}

// Clears what has tripped once no cause of it is present: a local RESET edge
// clears all, the host's request everything but lockout.
//@ requires \valid(s) && \valid_read(in) && \separated(s, in); assigns *s;
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

// The causes of one byte that latch; first becomes the one that ranks highest.
/*@ requires \valid(first) && (*first == CAUSE_NONE || *first < NUM_CAUSES); assigns *first;
    ensures *first == CAUSE_NONE || *first < NUM_CAUSES; */
static uint8_t latching(uint8_t fresh, uint8_t from, uint8_t *first) {
	uint8_t set = 0;
	uint8_t bit = 1;
	/*@ loop invariant *first == CAUSE_NONE || *first < NUM_CAUSES;
	    loop assigns cause, fresh, bit, set, *first; loop variant 256 - cause; */
	for (uint8_t cause = from; cause < NUM_CAUSES && fresh != 0; cause++) {
		if ((fresh & 1u) != 0 && latches(cause)) {
			set |= bit;
			if (*first == CAUSE_NONE ||
				warden_matrix[cause].priority < warden_matrix[*first].priority) {
				*first = cause;
			}
		}
		fresh >>= 1;
		bit = (uint8_t)(bit << 1);
	}
	return set;
}

// Takes in what is present now, whatever detected it.
//@ requires \valid(s) && \valid_read(in) && \separated(s, in); assigns *s;
static void latch(state *s, const input *in) {
	uint8_t first = CAUSE_NONE;
	uint64_t fresh = s->present & ~s->trips;
	if (fresh != 0) {
		uint8_t bytes[SET_BYTES];
		bytes_of(fresh, bytes);
		/*@ loop invariant i <= SET_BYTES && (first == CAUSE_NONE || first < NUM_CAUSES);
		    loop assigns i, bytes[0 .. SET_BYTES - 1], first; loop variant SET_BYTES - i; */
		for (uint8_t i = 0; i < SET_BYTES; i++) {
			bytes[i] = latching(bytes[i], (uint8_t)(i << 3), &first);
		}
		s->trips |= set_of(bytes);
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
	cause_set set = {{0}};
	detect(c, s, in, &set);
	s->present = set_of(set.bytes);
	latch(s, in);
}

// Latches a cause outside detect: only at power-up.
void trip(state *s, uint8_t cause) {
	s->trips |= CAUSE_BIT(cause);
	s->first = cause;
	react(s);
}
