#include "inside.h"

// The conditions of the matrix's rows. Each is a question about this tick; the
// timers that it stands on are kept here too.

// Longest proof of a flame that flickers.
#define PROVE_LONGEST_MS UINT32_C(5000)

// An empty set, or the cause alone. The shift is of constants: cheap on AVR.

// A light-up is under way or fuel is open.
bool gas_active(const state *s) { return s->burner >= BURNER_CHECK && s->burner <= BURNER_OFF; }

// From check to post-purge.
bool gas_armed(const state *s) {
	return s->burner >= BURNER_CHECK && s->burner <= BURNER_POST_PURGE;
}

// Something is energised or about to be.
//@ requires \valid_read(s); assigns \nothing;
static bool active(const state *s) {
	return s->started != 0 || gas_active(s) || s->spindle != SPINDLE_OFF ||
		s->press == PRESS_CLOSING || s->press == PRESS_CONTACT || s->press == PRESS_OPENING;
}

// The press is not open, or is driven.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool press_moves(const config *c, const state *s, const input *in) {
	bool driven = (s->out.bits & (OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) != 0 &&
		option(c, OPT_PRESS_DRIVEN);
	return !has(in, IN_PRESS_OPEN) || driven;
}

// A person at the open door could be hurt. Loading is not a trip.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool door_matters(const config *c, const state *s, const input *in) {
	if ((moving(c, s, in) && !turning_slowly(c, s, in)) ||
		(s->out.bits & (OUT_IGNITER | OUT_BURNER_IN)) != 0) {
		return true;
	}
	if (!hands_on_press(c, s, in) && press_moves(c, s, in)) {
		return true;
	}
	if (!fuel_open(s)) {
		return false;
	}
	bool parked = (s->burner == BURNER_RUN || s->burner == BURNER_OFF) && s->oxygen == 0 &&
		has(in, IN_BURNER_CLEAR);
	return !(parked && option(c, OPT_PARKED_DOOR_OPEN));
}

// The press opens because the host asked, not as a reaction.
bool host_opening(const state *s) {
	return s->press == PRESS_OPENING && press_column(s) < PRESS_RETRACT;
}

//@ requires \valid_read(c) && \valid_read(s); assigns \nothing;
static bool lease_in_use_dead(const config *c, const state *s) {
	if (gas_active(s) && s->burner != BURNER_OFF && !leased(c, s, I_FUEL)) {
		return true;
	}
	if (s->oxygen != 0 && !leased(c, s, I_OXYGEN)) {
		return true;
	}
	if (s->spindle == SPINDLE_RUN && !leased(c, s, I_SPINDLE)) {
		return true;
	}
	bool pressing = s->press == PRESS_CLOSING || s->press == PRESS_CONTACT || host_opening(s);
	return pressing && !leased(c, s, I_PRESS);
}

// The non-volatile byte has not become what it should hold within 1 s.
//@ requires \valid(s) && \valid_read(in) && \separated(s, in); assigns *s;
static bool nv_fails(state *s, const input *in) {
	s->nv_ms = count_while(in->nv != s->nv, s->nv_ms);
	return s->nv_ms >= 1000;
}

//@ requires \valid_read(c) && \valid_read(s) && \valid(set) && \separated(c, s, set); assigns *set;
static void detect_flame(const config *c, const state *s, cause_set *set) {
	bool lost = s->dark_ms >= c->flame_off_ms;
	bool proving = s->burner == BURNER_PROVE || s->burner == BURNER_PROVE_DARK;
	mark(set, CAUSE_FLAME_LOST, lost && (s->burner == BURNER_RUN || s->burner == BURNER_OFF));
	mark(set, CAUSE_NO_IGNITION, s->burner == BURNER_TRIAL && s->trial_ms >= c->trial_ms);
	mark(set, CAUSE_NO_IGNITION, proving && (lost || s->phase_ms >= PROVE_LONGEST_MS));
	mark(set, CAUSE_UNBURNT, fuel_open(s) && s->unburnt >= unburnt_limit(c));
	// A flame without fuel: 2 s after shut-off, or at any time before fuel opens.
	bool early = s->burner == BURNER_PURGE || s->burner == BURNER_IGNITER;
	bool unfuelled = s->fuel_off_ms >= 2000 || (early && !fuel_open(s));
	mark(set, CAUSE_FALSE_FLAME, unfuelled && s->flame_ms >= c->flame_on_ms);
}

// Debounces pressure switch i.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in) && i < 4; assigns *s;
static bool pressure(const config *c, state *s, const input *in, uint8_t i, uint32_t bit) {
	s->switch_ms[i] = count_while(fitted(c, bit) && has(in, bit), s->switch_ms[i]);
	return s->switch_ms[i] >= c->pressure_ms;
}

// A valve's proof of closure says other than its output, for longer than the
// valve needs. Only a fitted feedback can say so.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static bool feedback_wrong(const config *c, state *s, const input *in) {
	bool fuel_shut = has(in, IN_FUEL_SHUT);
	s->feed_ms = count_while(fitted(c, IN_FUEL_SHUT) && fuel_shut == fuel_open(s), s->feed_ms);
	bool oxygen_shut = has(in, IN_OXYGEN_SHUT);
	bool oxygen_open = (s->out.bits & OUT_OXYGEN) != 0;
	s->feed_ox_ms = count_while(fitted(c, IN_OXYGEN_SHUT) && oxygen_shut == oxygen_open,
		s->feed_ox_ms);
	uint16_t longest = (uint16_t)(c->valve_close_ms + 500u);
	return s->feed_ms >= longest || s->feed_ox_ms >= longest;
}

// Not proven for long enough to be a fault. In check the fan stands, and a switch
// that does not show its rest position within the time for which purge would wait
// for flow cannot be believed afterwards; in purge the clock just waits at first,
// since the fan has to spin up.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static bool extraction_fails(const config *c, state *s, const input *in) {
	bool missing = s->burner >= BURNER_PURGE && s->burner <= BURNER_POST_PURGE && !has(in, IN_EXTRACTION);
	bool unseen = s->burner == BURNER_CHECK && s->saw_still == 0;
	s->no_flow_ms = count_while(missing || unseen, s->no_flow_ms);
	if (fuel_open(s) || s->burner == BURNER_IGNITER) {
		return s->no_flow_ms >= c->extraction_ms;
	}
	return s->no_flow_ms >= c->extraction_wait_ms;
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in, set) && \valid(set); assigns *s, *set;
static void detect_gas(const config *c, state *s, const input *in, cause_set *set) {
	bool armed = gas_armed(s);
	bool oxygen = armed && option(c, OPT_OXYGEN_FITTED);
	mark(set, CAUSE_FUEL_LOW, pressure(c, s, in, 0, IN_FUEL_LOW) && armed);
	mark(set, CAUSE_FUEL_HIGH, pressure(c, s, in, 1, IN_FUEL_HIGH) && armed);
	mark(set, CAUSE_OXYGEN_LOW, pressure(c, s, in, 2, IN_OXYGEN_LOW) && oxygen);
	mark(set, CAUSE_OXYGEN_HIGH, pressure(c, s, in, 3, IN_OXYGEN_HIGH) && oxygen);
	mark(set, CAUSE_FLASHBACK, fitted(c, IN_FLASHBACK) && has(in, IN_FLASHBACK) && armed);
	mark(set, CAUSE_FEEDBACK, feedback_wrong(c, s, in));
	mark(set, CAUSE_EXTRACTION, extraction_fails(c, s, in));
}

bool over_force(const config *c, const input *in) {
	if (fitted(c, IN_OVER_FORCE) && has(in, IN_OVER_FORCE)) {
		return true;
	}
	return analog_ok(c, in, AI_FORCE) && in->analog[AI_FORCE] > as_signed(c->over_force_dn);
}

// Past the last position, or both end switches at once. The sum wraps as in
// the specification; a checked configuration has no such end.
bool over_travel(const config *c, const input *in) {
	if (fitted(c, IN_PRESS_END) && has(in, IN_PRESS_END)) {
		return true;
	}
	int16_t most = as_signed((uint16_t)((uint16_t)c->end_cmm + 100u));
	return analog_ok(c, in, AI_TRAVEL) && in->analog[AI_TRAVEL] > most;
}

// Heat is wanted, or a flame stands at the blank, while the press is not where
// heating is safe; or the press closes with the burner in its way.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool blocked(const config *c, const state *s, const input *in) {
	if (fuel_open(s) && !heat_open(c, in)) {
		bool wanted = asks(in, REQ_BURNER_IN) && leased(c, s, I_FUEL) && goes(s);
		bool sharp = s->oxygen != 0 || s->out.fuel_ml > c->soft_max_ml;
		if (option(c, OPT_BURNER_FIXED)) {
			if (sharp) {
				return true;
			}
		} else if (wanted || has(in, IN_BURNER_AT_BLANK)) {
			return true;
		}
	}
	bool closing = s->press == PRESS_CLOSING && !has(in, IN_PRESS_OPEN) && s->touching == 0;
	return closing && !stroke_flame_ok(c, s, in);
}

// The opening press does not arrive, or pulls at its limit. A reading hovers
// about the limit that the drive keeps, so 7/8 of it count as there.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static bool stuck(const config *c, state *s, const input *in) {
	bool opening = s->press == PRESS_OPENING && option(c, OPT_PRESS_DRIVEN);
	s->press_ms = count_while(opening, s->press_ms);
	uint16_t most = (uint16_t)(c->pull_max_dn - (c->pull_max_dn >> 3));
	int16_t limit = as_signed((uint16_t)(0u - most));
	bool pull = analog_ok(c, in, AI_FORCE) && in->analog[AI_FORCE] <= limit;
	s->pull_ms = count_while(opening && pull, s->pull_ms);
	uint16_t longest = parting(s) ? c->part_open_ms : c->retract_ms;
	return s->press_ms >= longest || s->pull_ms >= 500;
}

// A driven burner slide is not where it was sent.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static bool slide_fails(const config *c, state *s, const input *in) {
	if (!option(c, OPT_BURNER_DRIVEN) || option(c, OPT_BURNER_FIXED)) {
		return false;
	}
	uint16_t sent = (uint16_t)(s->out.bits & OUT_BURNER_IN);
	bool arrived = has(in, IN_BURNER_CLEAR) && !has(in, IN_BURNER_AT_BLANK);
	if (sent != 0) {
		arrived = has(in, IN_BURNER_AT_BLANK) && !has(in, IN_BURNER_CLEAR);
	}
	s->slide_ms = count_while(!arrived, s->slide_ms);
	if (s->slide_sent != sent) {
		s->slide_sent = sent;
		s->slide_ms = 0;
	}
	return s->slide_ms >= c->slide_ms && (active(s) || sent != 0);
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in, set) && \valid(set); assigns *s, *set;
static void detect_motion(const config *c, state *s, const input *in, cause_set *set) {
	bool heating = fuel_open(s) && at_blank(c, in);
	bool soft = s->out.fuel_ml <= c->soft_max_ml && s->oxygen == 0;
	bool fixed_soft = option(c, OPT_BURNER_FIXED) && soft;

	s->still_ms = count_while(heating && !fixed_soft && !turning(c, in), s->still_ms);
	mark(set, CAUSE_SPINDLE_STILL, s->still_ms >= c->spindle_stall_ms);

	bool closing = s->press == PRESS_CLOSING && !has(in, IN_PRESS_OPEN);
	mark(set, CAUSE_PRESS_STATE, closing && s->touching == 0 && !spindle_at_press(c, in));
	bool in_contact = s->press == PRESS_CONTACT && option(c, OPT_SPINDLE_TURNS);
	s->stall_ms = count_while(in_contact && !turning(c, in), s->stall_ms);
	mark(set, CAUSE_SPINDLE_STALL, s->stall_ms >= (uint16_t)(c->spindle_stall_ms >> 2));

	mark(set, CAUSE_OVER_FORCE, over_force(c, in));
	mark(set, CAUSE_OVER_TRAVEL, over_travel(c, in));
	mark(set, CAUSE_LEFT_OPEN, heating && !fixed_soft && !heat_open(c, in) &&
		s->burner_was_open != 0);
	s->burner_was_open = heating && heat_open(c, in) ? 1 : 0;
	s->block_ms = count_while(blocked(c, s, in), s->block_ms);
	mark(set, CAUSE_NOT_OPEN_FOR_HEAT, s->block_ms >= 200);
	mark(set, CAUSE_STUCK, stuck(c, s, in));
	mark(set, CAUSE_SLIDE, slide_fails(c, s, in));
}

void detect(const config *c, state *s, const input *in, cause_set *set) {
	mark(set, CAUSE_ESTOP, !has(in, IN_ESTOP_OK));
	mark(set, CAUSE_MAINS, fitted(c, IN_MAINS_OK) && !has(in, IN_MAINS_OK));
	mark(set, CAUSE_GAS_ALARM, fitted(c, IN_GAS_ALARM) && has(in, IN_GAS_ALARM));
	mark(set, CAUSE_DOOR, !has(in, IN_DOOR_CLOSED) && door_matters(c, s, in));
	mark(set, CAUSE_TWO_HAND, hands_released(s));
	mark(set, CAUSE_SET_UP, set_up(c, in) && working(s));
	mark(set, CAUSE_BUTTON, s->start_ms >= c->button_ms || s->reset_ms >= c->button_ms);
	mark(set, CAUSE_LINK_LOST, lease_in_use_dead(c, s));
	mark(set, CAUSE_BAD_FRAMES, s->error_sum >= ERROR_TRIP && active(s));
	mark(set, CAUSE_HOST_ABORT, in->fresh != 0 && asks(in, REQ_ABORT) && active(s));
	mark(set, CAUSE_HOST_ABORT, hand_opens(c, s, in) && s->started != 0 && (pushing(s) || host_opening(s)));
	mark(set, CAUSE_NV, nv_fails(s, in));
	detect_flame(c, s, set);
	detect_gas(c, s, in, set);
	detect_flow(c, s, in, set);
	detect_motion(c, s, in, set);
	detect_sensing(c, s, in, set);
	detect_runaway(c, s, in, set);
}
