#include "inside.h"

// The last assertion, on what is about to be driven. No step makes such an
// output, so the specification has no such check; a decayed register or a fault
// of the compiler could. Because nothing passes it, these few lines are all that
// has to be proven for what stands in them (firmware/README.md).

// Outputs that no set of them may have together.
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
static bool oxygen_proven(const config *c, const state *s, bool oxygen_before) {
	if ((s->out.bits & OUT_OXYGEN) == 0) {
		return true;
	}
	return s->burner == BURNER_RUN && leased(c, s, I_OXYGEN) && (oxygen_before || s->flame_ms >= c->oxygen_after_ms);
}

bool last_word(const config *c, const state *s, const input *in, bool oxygen_before) {
	const uint16_t gases = OUT_FUEL | OUT_OXYGEN | OUT_IGNITER;
	uint16_t bits = s->out.bits;
	if (!has(in, IN_ESTOP_OK) &&
		(bits & (gases | OUT_BURNER_IN | OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) != 0) {
		return false;
	}
	if (s->lock == LOCK_LOCKOUT && (bits & gases) != 0) {
		return false;
	}
	return agree(s) && permitted(c, s) && oxygen_proven(c, s, oxygen_before);
}
