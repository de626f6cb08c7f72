#include "inside.h"

// The burner machine:
//
//	standby -> check -> purge -> igniter -> trial -> prove -> prove dark -> run
//	   ^                                                                   |
//	   +------------- post-purge <---------------- off <-------------------+
//
// A reaction that shuts the gas leads from anywhere to post-purge in the same
// tick; lockout stands in for standby until a local RESET.

// How much of the unburnt-fuel budget may still be used when a light-up
// begins, so that a whole trial fits under the limit.
#define UNBURNT_START UINT32_C(60000)

//@ requires \valid(s); assigns *s;
static void enter(state *s, uint8_t phase) {
	s->burner = phase;
	s->phase_ms = 0;
}

// Carries out the gas column. Sequenced needs no delay where oxygen is shut
// already.
//@ requires \valid(s); assigns *s;
static void shut_down(state *s) {
	if (s->gas == GAS_SEQUENCED && s->burner >= BURNER_RUN) {
		if (s->burner == BURNER_RUN) {
			enter(s, BURNER_OFF); // which shuts oxygen in this same tick
		}
		return;
	}
	s->oxygen = 0;
	enter(s, BURNER_POST_PURGE);
}

// The host wants a flame, under a live lease.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool flame_asked(const config *c, const state *s, const input *in) {
	return asks(in, REQ_FLAME) && leased(c, s, I_FUEL);
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_standby(const config *c, state *s, const input *in) {
	s->oxygen = 0;
	if (s->lock == LOCK_LOCKOUT) {
		enter(s, BURNER_LOCKOUT);
	} else if (goes(s) && s->lit_once == 0 && flame_asked(c, s, in)) {
		// One light-up for each START, which any lock voids: no relight by itself.
		enter(s, BURNER_CHECK);
	}
}

// Waits until all that a light-up needs is seen together: dark for check_ms,
// valves shut, burner clear, press open, no old gas. An opened door takes START
// back, here and in all that follows.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_check(const config *c, state *s, const input *in) {
	if (!flame_asked(c, s, in) || !goes(s)) {
		enter(s, BURNER_STANDBY);
		return;
	}
	bool ready = s->dark_ms >= c->check_ms && burner_clear(c, in) && has(in, IN_PRESS_OPEN) &&
		s->unburnt <= UNBURNT_START && s->saw_still != 0;
	if (fitted(c, IN_FUEL_SHUT) && !has(in, IN_FUEL_SHUT)) {
		ready = false;
	}
	if (fitted(c, IN_OXYGEN_SHUT) && !has(in, IN_OXYGEN_SHUT)) {
		ready = false;
	}
	if (!ready) {
		s->phase_ms = 0;
		return;
	}
	s->phase_ms = up32(s->phase_ms);
	if (s->phase_ms >= c->check_ms) {
		enter(s, BURNER_PURGE);
	}
}

// The clock runs only while extraction is proven.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_purge(const config *c, state *s, const input *in) {
	if (!flame_asked(c, s, in) || !goes(s)) {
		enter(s, BURNER_POST_PURGE);
		return;
	}
	if (has(in, IN_EXTRACTION)) {
		s->phase_ms = up32(s->phase_ms);
	}
	if (s->phase_ms >= c->purge_ms) {
		enter(s, BURNER_IGNITER);
	}
}

// Igniter before fuel; fuel opens only once the non-volatile byte says that a
// light-up was under way.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_igniter(const config *c, state *s, const input *in) {
	if (!flame_asked(c, s, in) || !goes(s)) {
		enter(s, BURNER_POST_PURGE);
		return;
	}
	s->phase_ms = up32(s->phase_ms);
	bool ready = in->nv == NV_RUNNING && has(in, IN_EXTRACTION) && burner_clear(c, in) &&
		has(in, IN_PRESS_OPEN);
	if (s->phase_ms >= c->igniter_ms && ready) {
		s->trial_ms = 1; // this tick opens fuel
		s->lit_once = 1;
		enter(s, BURNER_TRIAL);
	}
}

// Trial and proof: fuel is open, oxygen is not.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_light(const config *c, state *s, const input *in) {
	if (!flame_asked(c, s, in) || !goes(s)) {
		enter(s, BURNER_POST_PURGE);
		return;
	}
	s->phase_ms = up32(s->phase_ms);
	switch (s->burner) {
	case BURNER_TRIAL:
		s->trial_ms = up(s->trial_ms);
		if (s->flame_ms >= c->flame_on_ms) {
			enter(s, BURNER_PROVE);
		}
		break;
	case BURNER_PROVE:
		if (s->flame_ms >= c->prove_ms) {
			enter(s, BURNER_PROVE_DARK);
		}
		break;
	default: // BURNER_PROVE_DARK
		if (s->flame_ms >= c->prove_dark_ms && s->phase_ms >= c->prove_dark_ms) {
			s->park_ms = 0;
			s->run_ms = 0;
			enter(s, BURNER_RUN);
		}
		break;
	}
}

// Run ends by itself after run_ms: only a light-off shows that the flame signal
// still goes out with the flame.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_run(const config *c, state *s, const input *in) {
	s->phase_ms = up32(s->phase_ms);
	s->run_ms = up32(s->run_ms);
	s->park_ms = up32(s->park_ms);
	if (goes(s)) {
		s->park_ms = 0;
	}
	if (!flame_asked(c, s, in) || s->park_ms >= c->park_ms || s->run_ms >= c->run_ms) {
		s->oxygen = 0;
		enter(s, BURNER_OFF);
		return;
	}
	bool wanted = option(c, OPT_OXYGEN_FITTED) && goes(s) && leased(c, s, I_OXYGEN) &&
		asks(in, REQ_OXYGEN) && !(option(c, OPT_BURNER_FIXED) && pushing(s));
	if (!wanted) {
		s->oxygen = 0;
	} else if (s->flame_ms >= c->oxygen_after_ms) {
		s->oxygen = 1;
	}
}

// Sets the byte that must survive power loss: running from before fuel opens
// until it has been shut and purged, lockout as long as it stands.
//@ requires \valid(s); assigns *s;
static void remember(state *s) {
	if (s->lock == LOCK_LOCKOUT) {
		s->nv = NV_LOCKOUT;
	} else if (s->burner >= BURNER_PURGE) {
		s->nv = NV_RUNNING; // the phase of lockout never comes here
	} else {
		s->nv = NV_CLEAR;
	}
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void burner_phase(const config *c, state *s, const input *in) {
	switch (s->burner) {
	case BURNER_STANDBY:
		burner_standby(c, s, in);
		break;
	case BURNER_CHECK:
		burner_check(c, s, in);
		break;
	case BURNER_PURGE:
		burner_purge(c, s, in);
		break;
	case BURNER_IGNITER:
		burner_igniter(c, s, in);
		break;
	case BURNER_TRIAL:
	case BURNER_PROVE:
	case BURNER_PROVE_DARK:
		burner_light(c, s, in);
		break;
	case BURNER_RUN:
		burner_run(c, s, in);
		break;
	case BURNER_OFF:
		s->oxygen = 0;
		s->phase_ms = up32(s->phase_ms);
		if (s->phase_ms >= c->off_ms || !leased(c, s, I_FUEL)) {
			enter(s, BURNER_POST_PURGE);
		}
		break;
	case BURNER_POST_PURGE:
		s->phase_ms = up32(s->phase_ms);
		if (s->phase_ms >= c->post_purge_ms) {
			enter(s, BURNER_STANDBY);
		}
		break;
	case BURNER_LOCKOUT:
		if (s->lock != LOCK_LOCKOUT) {
			enter(s, BURNER_STANDBY);
		}
		break;
	default: // warden_step has answered with lockout
		break;
	}
}

void step_burner(const config *c, state *s, const input *in) {
	if (s->gas != GAS_KEEP && gas_active(s)) {
		shut_down(s);
	}
	burner_phase(c, s, in);
	remember(s);
}

// The slide may stand at the blank. It comes in only with the press open and,
// when lit, only over a turning spindle with extraction proven, and never while
// START is awaited. What shuts the gas has voided START.
bool burner_in(const config *c, const state *s, const input *in) {
	if (!option(c, OPT_BURNER_DRIVEN) || option(c, OPT_BURNER_FIXED) || s->started == 0) {
		return false;
	}
	bool asked = asks(in, REQ_BURNER_IN) && leased(c, s, I_FUEL);
	if (!asked || !heat_open(c, in)) {
		return false;
	}
	if (s->burner != BURNER_RUN && s->burner != BURNER_STANDBY) {
		return false;
	}
	if ((s->out.bits & OUT_BURNER_IN) != 0) {
		return true;
	}
	return s->wait == 0 && (!fuel_open(s) || (turning(c, in) && has(in, IN_EXTRACTION)));
}
