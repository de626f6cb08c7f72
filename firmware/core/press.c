#include "inside.h"

// The press machine. Closing force is energising: it needs START, a lease and,
// to leave open, every permit of may_leave_open. Opening and easing are safing.

// The press pushes, before or in contact.
bool pushing(const state *s) { return s->press == PRESS_CLOSING || s->press == PRESS_CONTACT; }

// The reaction of the column that applies: above contact or in contact.
uint8_t press_column(const state *s) { return s->touching != 0 ? s->touch : s->above; }

// The reaction of a lost flame in contact.
bool parting(const state *s) { return press_column(s) == PRESS_TO_PART; }

// Force says contact. Without a force sensor every position but open counts as
// contact, the more cautious column.
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
static bool touched(const config *c, const input *in) {
	if ((c->fitted_analog & analog_bit(AI_FORCE)) == 0) {
		return !has(in, IN_PRESS_OPEN);
	}
	return (in->analog_ok & analog_bit(AI_FORCE)) != 0 &&
		in->analog[AI_FORCE] >= as_signed(c->contact_dn) && !has(in, IN_PRESS_OPEN);
}

// The host may close or open at all: START stands, which an opened door takes
// back, or a person holds two hands on this stroke. Any lock has voided START,
// and over-force and over-travel are causes that take the force before anybody
// asks.
//@ requires \valid_read(s); assigns \nothing;
static bool may_move(const state *s) {
	return goes(s) || (s->started != 0 && s->hands[HANDS_STROKE].given != 0);
}

// The burner cannot meet the stroke, and what still burns is a soft flame of
// fuel alone where the rig allows one.
bool stroke_flame_ok(const config *c, const state *s, const input *in) {
	if (option(c, OPT_BURNER_FIXED)) {
		bool soft = s->oxygen == 0 && s->out.fuel_ml <= c->soft_max_ml &&
			option(c, OPT_STROKE_FLAME_SOFT);
		return !fuel_open(s) || soft;
	}
	if (!has(in, IN_BURNER_CLEAR) || has(in, IN_BURNER_AT_BLANK) ||
		(s->out.bits & OUT_BURNER_IN) != 0) {
		return false;
	}
	return !fuel_open(s) || (s->oxygen == 0 && option(c, OPT_STROKE_FLAME_CLEAR));
}

// The thermometer sees the glass and nothing else.
bool view_free(const config *c, const state *s, const input *in) {
	bool aside = option(c, OPT_VIEW_ALWAYS) || s->clear_ms >= c->view_ms;
	return aside && heat_open(c, in);
}

// Measured in time, or extrapolated with its whole uncertainty inside, or
// declared soft by the operator where no thermometer is fitted.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool glass_in_window(const config *c, const state *s, const input *in) {
	if (s->window_hi <= s->window_low) {
		return false;
	}
	if ((c->fitted_analog & analog_bit(AI_GLASS)) == 0) {
		return s->soft_ms < c->soft_ms;
	}
	int16_t glass = in->analog[AI_GLASS];
	if (analog_ok(c, in, AI_GLASS) && view_free(c, s, in) && in->glass_age_ms <= c->sample_ms) {
		return glass >= s->window_low && glass <= s->window_hi;
	}
	if (!asks(in, REQ_ESTIMATE) || in->request.est_age_ms > c->estimate_ms) {
		return false;
	}
	int32_t estimate = in->request.est_dc;
	int32_t unsure = (int32_t)in->request.est_unc_dc;
	return estimate - unsure >= s->window_low && estimate + unsure <= s->window_hi;
}

// Lease, door, spindle, burner, glass temperature and what feels the press all
// right together, no stroke inhibited, position known: invariant 9.
bool may_leave_open(const config *c, const state *s, const input *in) {
	return may_move(s) && leased(c, s, I_PRESS) && s->above == PRESS_KEEP &&
		s->homed != 0 && sensed(c, in) && !chuck_open(c, in) && spindle_at_press(c, in) &&
		stroke_flame_ok(c, s, in) && glass_in_window(c, s, in);
}

// Nothing has taken the drives' power away.
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
static bool powered(const config *c, const input *in) {
	return has(in, IN_ESTOP_OK) && (!fitted(c, IN_MAINS_OK) || has(in, IN_MAINS_OK));
}

// A person frees a hand or a piece. One hand is enough, with the safety door
// open or closed, in every state that has drive power; a running stroke of the
// host it ends first (row 40).
bool hand_opens(const config *c, const state *s, const input *in) {
	return pressed(c, in, IN_HOLD_OPEN) && (s->hold_seen & 1) != 0 && !has(in, IN_PRESS_OPEN) &&
		powered(c, in);
}

// The hold-to-run that a person asks for now: PRESS_STAY for none. Closing,
// which is force, works in standby with fuel shut, the daemon alive or dead,
// only without any lock and never blind.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static uint8_t hand(const config *c, const state *s, const input *in) {
	if (pressed(c, in, IN_HOLD_OPEN)) {
		return hand_opens(c, s, in) ? PRESS_HAND_OPEN : PRESS_STAY;
	}
	bool felt = feels(c, in) && !touched(c, in);
	bool idle = s->started == 0 && s->lock == LOCK_NONE && !fuel_open(s) && !gas_active(s);
	if (pressed(c, in, IN_HOLD_CLOSE) && (s->hold_seen & 2) != 0 && hand_guarded(s, in, HANDS_CLOSE) &&
		idle && felt) {
		return PRESS_HAND_CLOSE;
	}
	return PRESS_STAY;
}

//@ requires \valid_read(c) && \valid(s) && \separated(c, s); assigns *s;
static void ease(const config *c, state *s) {
	if (s->ease_dn <= c->ease_step_dn) {
		s->ease_dn = 0;
		s->press = PRESS_STAY;
		return;
	}
	s->ease_dn = (uint16_t)(s->ease_dn - c->ease_step_dn);
}

// Takes closing or opening force away: ramped where asked and where there is a
// drive to ramp, else at once.
//@ requires \valid_read(c) && \valid(s) && \separated(c, s); assigns *s;
static void soften(const config *c, state *s, bool ramp) {
	switch (s->press) {
	case PRESS_CLOSING:
	case PRESS_CONTACT:
		if (ramp && option(c, OPT_PRESS_DRIVEN)) {
			s->press = PRESS_EASING;
			s->ease_dn = s->out.force_dn;
		} else {
			s->press = PRESS_STAY;
		}
		break;
	case PRESS_OPENING:
	case PRESS_OFF:
		s->press = PRESS_STAY;
		break;
	case PRESS_EASING:
		ease(c, s);
		break;
	default: // stands, or is moved by hand
		break;
	}
}

// The causes after which nobody knows how the halves part: rows 17, 43 and 44. A
// test holds the number to the specification's.
#define NO_PARTING UINT64_C(26388279197696)

// Saves piece and mould after a lost flame: shut halves that cool shrink on to the
// glass. The force is eased, the glass sets for part_ms, then the halves open slowly
// under the pull limit, with no host and no START, but only with the safety door
// closed, a drive, a known position, and both travel and force felt.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void part_halves(const config *c, state *s, const input *in) {
	bool able = has(in, IN_DOOR_CLOSED) && option(c, OPT_PRESS_DRIVEN) && s->homed != 0 &&
		analog_ok(c, in, AI_TRAVEL) && analog_ok(c, in, AI_FORCE) && (s->trips & NO_PARTING) == 0;
	s->part_ms = (uint16_t)(least(s->part_ms, c->part_ms) + 1u);
	if (!able || s->part_ms <= c->part_ms || (s->press != PRESS_STAY && s->press != PRESS_OPENING)) {
		soften(c, s, true);
	} else {
		s->press = PRESS_OPENING;
	}
}

// Opens fully as a reaction, only with the safety door closed and only where
// there is a drive: a released weight would fall, not lift.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void retract(const config *c, state *s, const input *in) {
	bool able = has(in, IN_DOOR_CLOSED) && !has(in, IN_PRESS_OPEN) &&
		option(c, OPT_PRESS_DRIVEN) && s->homed != 0;
	if (able && s->press != PRESS_OFF) {
		s->press = PRESS_OPENING;
		return;
	}
	s->press = PRESS_STAY;
}

// Carries out the press column that applies. It reports whether that decided
// the phase.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static bool press_react(const config *c, state *s, const input *in) {
	uint8_t reaction = press_column(s);
	if (!parting(s)) {
		s->part_ms = 0;
	}
	if (reaction == PRESS_TO_OFF && pushing(s)) {
		s->press = PRESS_OFF;
		return true;
	}
	if (hand_opens(c, s, in) && !pushing(s)) {
		s->press = PRESS_HAND_OPEN;
		s->part_ms = 0; // a hand at the rig has taken over: parting waits anew
		return true;
	}
	if (reaction == PRESS_TO_OFF) {
		s->press = PRESS_OFF;
		return true;
	}
	if (s->press == PRESS_HAND_OPEN || s->press == PRESS_HAND_CLOSE) {
		return false; // hold-to-run stops itself when the button or a permit goes
	}
	if (reaction == PRESS_TO_EASE || reaction == PRESS_TO_STAY) {
		soften(c, s, reaction == PRESS_TO_EASE);
	} else if (reaction == PRESS_TO_PART) {
		part_halves(c, s, in);
	} else if (reaction == PRESS_RETRACT) {
		retract(c, s, in);
	} else if (s->lock != LOCK_NONE && pushing(s)) {
		soften(c, s, s->touching != 0); // closing force ends with START
	} else {
		return false;
	}
	return s->press != PRESS_STAY || hand(c, s, in) == PRESS_STAY;
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void press_stay(const config *c, state *s, const input *in) {
	uint8_t wanted = hand(c, s, in);
	if (wanted != PRESS_STAY) {
		s->press = wanted;
		return;
	}
	if (!leased(c, s, I_PRESS)) {
		return;
	}
	switch (in->request.press) {
	case PRESS_OPEN:
		if (may_move(s) && !has(in, IN_PRESS_OPEN)) {
			s->press = PRESS_OPENING;
		}
		break;
	case PRESS_CLOSE:
	case PRESS_FORCE:
		if (s->touching != 0) {
			if (may_move(s)) {
				s->press = PRESS_CONTACT;
			}
		} else if (may_leave_open(c, s, in)) {
			s->press = PRESS_CLOSING;
		}
		break;
	default: // PRESS_NONE
		break;
	}
}

// Goes on closing. A dead lease is a cause and never comes here.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void press_close(const config *c, state *s, const input *in) {
	bool asked = in->request.press == PRESS_CLOSE || in->request.press == PRESS_FORCE;
	if (!may_move(s)) {
		soften(c, s, s->touching != 0);
	} else if (in->request.press == PRESS_OPEN) {
		s->press = PRESS_OPENING;
	} else if (!asked) {
		soften(c, s, s->touching != 0);
	} else if (s->touching == 0 && touched(c, in)) {
		s->touching = 1;
		s->press = PRESS_CONTACT;
	}
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void press_phase(const config *c, state *s, const input *in) {
	bool asked;
	switch (s->press) {
	case PRESS_OFF:
		s->press = PRESS_STAY;
		break;
	case PRESS_STAY:
		press_stay(c, s, in);
		break;
	case PRESS_CLOSING:
	case PRESS_CONTACT:
		press_close(c, s, in);
		break;
	case PRESS_OPENING:
		asked = in->request.press == PRESS_OPEN && leased(c, s, I_PRESS) && may_move(s);
		if (has(in, IN_PRESS_OPEN) || !asked) {
			s->press = PRESS_STAY;
		}
		break;
	case PRESS_EASING:
		ease(c, s);
		break;
	case PRESS_HAND_OPEN:
	case PRESS_HAND_CLOSE:
		if (hand(c, s, in) != s->press) {
			s->press = PRESS_STAY;
		}
		break;
	default: // warden_step has answered with lockout
		break;
	}
}

void step_press(const config *c, state *s, const input *in) {
	if (!press_react(c, s, in)) {
		press_phase(c, s, in);
	}
	mark_hand_stroke(s, in);
}
