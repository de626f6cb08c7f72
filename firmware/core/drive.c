#include "inside.h"

// The outputs of this tick, from the machines' phases alone. A set-point is
// zero whenever its bit is off.

// The causes that mean gas where none should be: rows 5, 31, 33, 38 and 50. A test
// holds the number to the specification's.
#define LEAK_ROWS UINT64_C(1126185522167840)

// Gas may be where none should be: the horn calls people away, host or none.
//@ requires \valid_read(s); assigns \nothing;
static bool leaking(const state *s) { return ((s->trips | s->present) & LEAK_ROWS) != 0; }

// After a leak a running fan keeps running. A standing one stays, because its
// motor or contactor may spark in what has leaked, unless the profile says that
// it cannot.
//@ requires \valid_read(c) && \valid_read(s); assigns \nothing;
static bool airs(const config *c, const state *s) {
	return leaking(s) && ((s->out.bits & OUT_FAN) != 0 || option(c, OPT_FAN_SAFE));
}

// A sharp flame has its place: at the blank, press open.
//@ requires \valid_read(c) && \valid_read(in) && \valid_read(out); assigns \nothing;
static bool heat_now(const config *c, const input *in, const output *out) {
	if (!heat_open(c, in)) {
		return false;
	}
	return option(c, OPT_BURNER_FIXED) || (out->bits & OUT_BURNER_IN) != 0 ||
		has(in, IN_BURNER_AT_BLANK);
}

//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in) && \valid(out) && \separated(c, s, in, out); assigns *out;
static void drive_burner(const config *c, const state *s, const input *in, output *out) {
	if ((s->burner >= BURNER_PURGE && s->burner <= BURNER_POST_PURGE) || airs(c, s)) {
		out->bits |= OUT_FAN;
	}
	if (s->burner == BURNER_IGNITER || s->burner == BURNER_TRIAL || s->burner == BURNER_PROVE) {
		out->bits |= OUT_IGNITER;
	}
	if (burner_in(c, s, in)) {
		out->bits |= OUT_BURNER_IN;
	}
	if (s->burner < BURNER_TRIAL || s->burner > BURNER_OFF) {
		return;
	}
	out->bits |= OUT_FUEL;
	uint16_t most = c->soft_max_ml;
	if (s->burner == BURNER_RUN && goes(s) && !pushing(s) && heat_now(c, in, out)) {
		most = c->fuel_max_ml;
	}
	out->fuel_ml = least(in->request.fuel_ml, most);
	if (s->burner == BURNER_OFF) {
		out->fuel_ml = least(s->out.fuel_ml, c->soft_max_ml);
	}
	if (s->oxygen != 0) {
		out->bits |= OUT_OXYGEN;
		out->oxygen_ml = least(in->request.oxygen_ml, c->oxygen_max_ml);
	}
}

// The target on the way down: never above open, never past the last position.
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
static int16_t target(const config *c, const input *in) {
	return most_signed(0, least_signed(in->request.travel_cmm, c->end_cmm));
}

//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in) && \valid(out) && \separated(c, s, in, out); assigns *out;
static void drive_press(const config *c, const state *s, const input *in, output *out) {
	switch (s->press) {
	case PRESS_CLOSING:
	case PRESS_CONTACT:
		out->bits |= OUT_PRESS_CLOSE;
		out->speed_cmms = least(in->request.speed_cmms, c->speed_max_cmms);
		out->force_dn = least(in->request.force_dn, c->force_max_dn);
		out->travel_cmm = target(c, in);
		break;
	case PRESS_OPENING:
		out->bits |= OUT_PRESS_OPEN;
		out->force_dn = c->pull_max_dn;
		out->speed_cmms = parting(s) ? c->part_cmms : c->hand_cmms;
		if (host_opening(s)) {
			out->speed_cmms = least(in->request.speed_cmms, c->speed_max_cmms);
			out->travel_cmm = most_signed(0, in->request.travel_cmm);
		}
		break;
	case PRESS_EASING:
		out->bits |= OUT_PRESS_CLOSE;
		out->force_dn = s->ease_dn;
		out->travel_cmm = target(c, in);
		break;
	case PRESS_HAND_OPEN:
		out->bits |= OUT_PRESS_OPEN;
		out->force_dn = c->pull_max_dn;
		out->speed_cmms = c->hand_cmms;
		break;
	case PRESS_HAND_CLOSE:
		out->bits |= OUT_PRESS_CLOSE;
		out->force_dn = c->contact_dn;
		out->speed_cmms = c->hand_cmms;
		out->travel_cmm = c->end_cmm;
		break;
	default: // PRESS_OFF, PRESS_STAY
		out->bits |= OUT_BRAKE;
		break;
	}
}

void drive(const config *c, state *s, const input *in) {
	output out = {0};
	out.nv = s->nv;
	drive_burner(c, s, in, &out);
	drive_press(c, s, in, &out);
	if (s->spindle != SPINDLE_OFF) {
		out.bits |= OUT_SPINDLE;
		out.spindle_drpm = s->spin_set;
	}
	if (s->spindle == SPINDLE_CREEP && !(parting(s) && option(c, OPT_SPINDLE_TURNS))) {
		out.spindle_drpm = least(c->creep_drpm, s->spin_set);
	}
	if (start_counts(c, s)) {
		out.bits |= OUT_ARMED_LAMP;
	}
	if ((asks(in, REQ_HORN) && s->link_ms < c->lease_ms) || leaking(s)) {
		out.bits |= OUT_HORN;
	}
	if (s->lock == LOCK_LOCKOUT) {
		out.bits |= OUT_LOCK_LAMP;
	}
	s->out = out;
}
