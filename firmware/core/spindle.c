#include "inside.h"

// The spindle machine. Only a start needs START; creep and ramp are safing and
// end by themselves. A reaction comes first: a request that goes, or a lease
// that dies, in the tick of the reaction must not stop what has to creep.

//@ requires \valid(s); assigns *s;
static void spin(state *s, uint8_t phase) {
	s->spindle = phase;
	s->spin_ms = 0;
	if (phase == SPINDLE_OFF || phase == SPINDLE_RAMP) {
		s->spin_set = 0;
	}
}

// Ends a creep whose cause has been reset: a new START takes the spindle over
// without letting the glass stand; else it stops.
//@ requires \valid(s); assigns *s;
static void resume(state *s, bool asked) {
	if (asked && goes(s)) {
		spin(s, SPINDLE_RUN);
	}
}

//@ requires \valid(s); assigns *s;
static void spindle_react(state *s) {
	bool turns = s->spindle == SPINDLE_RUN || s->spindle == SPINDLE_CREEP;
	if (s->spin == SPINDLE_TO_OFF) {
		spin(s, SPINDLE_OFF);
	} else if (s->spin == SPINDLE_TO_RAMP && turns) {
		spin(s, SPINDLE_RAMP);
	} else if (s->spin == SPINDLE_TO_CREEP && s->spindle == SPINDLE_RUN) {
		spin(s, SPINDLE_CREEP);
	}
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void spindle_phase(const config *c, state *s, const input *in) {
	bool unhindered = s->spin == SPINDLE_KEEP; // in a reaction nothing starts or speeds up
	bool asked = unhindered && leased(c, s, I_SPINDLE) && in->request.spindle_drpm > 0;
	bool by_hand = unhindered && hand_turn(c, s, in) && !chuck_open(c, in);
	switch (s->spindle) {
	case SPINDLE_OFF:
		if (asked && goes(s) && !chuck_open(c, in)) {
			spin(s, SPINDLE_RUN);
		} else if (by_hand) {
			spin(s, SPINDLE_HAND);
		}
		break;
	case SPINDLE_HAND:
		if (!by_hand) {
			spin(s, SPINDLE_RAMP);
		}
		break;
	case SPINDLE_RUN:
		if (!asked) {
			spin(s, SPINDLE_RAMP);
		}
		break;
	case SPINDLE_CREEP:
		if (s->spin_ms >= c->creep_ms) {
			spin(s, SPINDLE_RAMP);
		} else {
			resume(s, asked);
		}
		break;
	case SPINDLE_RAMP:
		if (s->spin_ms >= c->ramp_ms) {
			spin(s, SPINDLE_OFF);
		}
		break;
	default: // warden_step has answered with lockout
		break;
	}
}

void step_spindle(const config *c, state *s, const input *in) {
	if (!option(c, OPT_SPINDLE_FITTED)) {
		s->spindle = SPINDLE_OFF;
		return;
	}
	s->spin_ms = up32(s->spin_ms);
	spindle_react(s);
	spindle_phase(c, s, in);
	if (s->spindle == SPINDLE_RUN) {
		uint16_t most = c->spindle_max_drpm;
		if (!goes(s)) {
			most = least(most, s->spin_set); // no faster without START
		}
		s->spin_set = least(in->request.spindle_drpm, most);
	} else if (s->spindle == SPINDLE_HAND) {
		s->spin_set = c->set_up_drpm;
	}
}

// The spindle is in the state that the stroke needs.
bool spindle_at_press(const config *c, const input *in) {
	if (!option(c, OPT_SPINDLE_FITTED)) {
		return true;
	}
	if (!analog_ok(c, in, AI_SPINDLE)) {
		return false;
	}
	int16_t speed = in->analog[AI_SPINDLE];
	if (option(c, OPT_SPINDLE_TURNS)) {
		return speed >= as_signed(c->press_low_drpm) && speed <= as_signed(c->press_high_drpm);
	}
	if (option(c, OPT_SPINDLE_INDEXED)) {
		return speed <= STANDSTILL_DRPM && has(in, IN_INDEXED);
	}
	return speed <= STANDSTILL_DRPM;
}
