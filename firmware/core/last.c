#include "inside.h"

// The last assertion, on what is about to be driven. No step makes such an
// output, so the specification has no such check; a decayed register or a fault
// of the compiler could. Because nothing passes it, these few lines are all that
// has to be proven for what stands in them (firmware/README.md).

// The causes that lock out, as the matrix has them.
static const uint64_t locking = CAUSE_BIT(CAUSE_ESTOP) | CAUSE_BIT(CAUSE_FLAME_LOST) | CAUSE_BIT(CAUSE_NO_IGNITION) |
	CAUSE_BIT(CAUSE_FALSE_FLAME) | CAUSE_BIT(CAUSE_FUEL_LOW) | CAUSE_BIT(CAUSE_FUEL_HIGH) |
	CAUSE_BIT(CAUSE_OXYGEN_HIGH) | CAUSE_BIT(CAUSE_OVER_TRAVEL) | CAUSE_BIT(CAUSE_LEFT_OPEN) |
	CAUSE_BIT(CAUSE_RESTART) | CAUSE_BIT(CAUSE_GAS_ALARM) | CAUSE_BIT(CAUSE_FLASHBACK) |
	CAUSE_BIT(CAUSE_FEEDBACK) | CAUSE_BIT(CAUSE_MAINS) | CAUSE_BIT(CAUSE_UNBURNT) | CAUSE_BIT(CAUSE_NV) |
	CAUSE_BIT(CAUSE_FLOW_OVER);

past look_back(const state *s, const input *in) {
	bool edge = has(in, IN_RESET) && s->reset_seen != 0;
	past p = {s->lock == LOCK_LOCKOUT && (s->trips & locking) != 0 && !edge, (s->out.bits & OUT_OXYGEN) != 0};
	return p;
}

// Lockout stands as long as a cause of it is kept, and no step lets it go but
// with an edge of the local RESET.
/*@ requires \valid_read(s) && \valid_read(p); assigns \nothing;
    ensures \result != 0 ==> LOCKED_BY_CAUSE(s) && (p->locked != 0 ==> s->lock == LOCK_LOCKOUT); */
static bool locks(const state *s, const past *p) {
	return ((s->trips & locking) != 0) == (s->lock == LOCK_LOCKOUT) && (!p->locked || s->lock == LOCK_LOCKOUT);
}

// Outputs that no set of them may have together.
//@ requires \valid_read(s); assigns \nothing; ensures \result != 0 ==> SOUND(s->out.bits);
static bool agree(const state *s) {
	uint16_t bits = s->out.bits;
	uint16_t fuel = (uint16_t)(bits & OUT_FUEL);
	if ((bits & OUT_PRESS_CLOSE) != 0 && (bits & OUT_PRESS_OPEN) != 0) {
		return false;
	}
	if ((bits & OUT_BRAKE) != 0 && (bits & (OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) != 0) {
		return false;
	}
	if (fuel != 0 && fuel != OUT_FUEL) {
		return false;
	}
	return (bits & OUT_OXYGEN) == 0 || fuel != 0;
}

// Fuel needs its lease, but for the one tick in which its end is found; the
// closing press needs its own, or a hand, or eases.
/*@ requires \valid_read(c) && \valid_read(s); assigns \nothing;
    ensures \result != 0 ==> FUEL_LEASED(c, s, s->out.bits) && PRESS_LEASED(c, s, s->out.bits); */
static bool permitted(const config *c, const state *s) {
	uint16_t bits = s->out.bits;
	if ((bits & OUT_FUEL) != 0 && !leased(c, s, I_FUEL) && (s->burner != BURNER_OFF || s->phase_ms != 0)) {
		return false;
	}
	if ((bits & OUT_PRESS_CLOSE) != 0 && s->press != PRESS_EASING && s->press != PRESS_HAND_CLOSE) {
		return leased(c, s, I_PRESS);
	}
	return true;
}

// Oxygen opens into a flame that has stood long enough, in run, under its lease.
/*@ requires \valid_read(c) && \valid_read(s); assigns \nothing;
    ensures \result != 0 ==> OXYGEN_IN_RUN(c, s, s->out.bits);
    ensures \result != 0 && !oxygen_before ==> OXYGEN_INTO_FLAME(c, s, s->out.bits); */
static bool oxygen_proven(const config *c, const state *s, bool oxygen_before) {
	if ((s->out.bits & OUT_OXYGEN) == 0) {
		return true;
	}
	return s->burner == BURNER_RUN && leased(c, s, I_OXYGEN) && (oxygen_before || s->flame_ms >= c->oxygen_after_ms);
}

bool last_word(const config *c, const state *s, const input *in, const past *p) {
	const uint16_t gases = OUT_FUEL | OUT_OXYGEN | OUT_IGNITER;
	uint16_t bits = s->out.bits;
	if (!has(in, IN_ESTOP_OK) &&
		(bits & (gases | OUT_BURNER_IN | OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) != 0) {
		return false;
	}
	if (s->lock == LOCK_LOCKOUT && (bits & gases) != 0) {
		return false;
	}
	return locks(s, p) && agree(s) && permitted(c, s) && oxygen_proven(c, s, p->oxygen);
}
