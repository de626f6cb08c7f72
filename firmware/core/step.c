#include "inside.h"

//@ requires \valid(s); assigns *s;
void warden_init(warden_state *s, uint8_t nv) {
	*s = (warden_state){0};
	//@ loop invariant i <= NUM_LEASES; loop assigns i, s->lease_ms[0 .. NUM_LEASES - 1]; loop variant NUM_LEASES - i;
	for (uint8_t i = 0; i < NUM_LEASES; i++) {
		s->lease_ms[i] = FOREVER;
	}
	s->link_ms = FOREVER;
	s->fuel_off_ms = FOREVER;
	s->soft_ms = FOREVER;
	s->nv = NV_CLEAR;
	if (nv != NV_CLEAR) {
		trip(s, CAUSE_RESTART);
	}
}

// Finds a state that no step could have left: decayed memory. The answer is
// lockout, never a repair.
//@ requires \valid_read(s); assigns \nothing; ensures (\result != 0) <==> DECAYED(s);
static bool corrupt(const state *s) {
	return s->burner >= NUM_BURNER || s->press >= NUM_PRESS || s->spindle >= NUM_SPINDLE ||
		s->link >= NUM_LINK || s->lock > LOCK_LOCKOUT || s->first >= NUM_CAUSES ||
		s->started > 1 || s->wait > 1 || s->armed > 1 || s->oxygen > 1 || s->touching > 1;
}

// Keeps the integer of invariant 3: unburnt fuel at most 4 s in any 30 s. With
// u unburnt ms in such a window the sum grows by at least 120u - (30,000 - u),
// so a trip at 120 x (3,750 - closing) bounds u, closing time included, by
// 480,000/121 = 3,967 ms.
//@ requires \valid(s); assigns *s;
static void sense_unburnt(state *s, bool flame) {
	if (fuel_open(s) && !flame) {
		s->unburnt += UINT32_C(120);
	} else if (s->unburnt > 0) {
		s->unburnt--;
	}
}

// Runs the timers that stand on inputs alone.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void sense(const config *c, state *s, const input *in) {
	bool flame = has(in, IN_FLAME);
	s->flame_ms = count_while(flame, s->flame_ms);
	s->dark_ms = count_while(!flame, s->dark_ms);
	s->fuel_off_ms = count_while(!fuel_open(s), s->fuel_off_ms);
	s->clear_ms = count_while(burner_clear(c, in), s->clear_ms);
	s->start_ms = count_while(has(in, IN_START), s->start_ms);
	s->reset_ms = count_while(has(in, IN_RESET), s->reset_ms);
	s->soft_ms = up(s->soft_ms);
	if (has(in, IN_PRESS_OPEN)) {
		s->homed = 1;
		s->touching = 0;
	}
	if (fuel_open(s)) {
		s->saw_still = 0;
	} else if ((s->out.bits & OUT_FAN) == 0 && !has(in, IN_EXTRACTION)) {
		s->saw_still = 1;
	}
	if (!has(in, IN_HOLD_OPEN)) {
		s->hold_seen |= 1;
	}
	if (!has(in, IN_HOLD_CLOSE)) {
		s->hold_seen |= 2;
	}
	if (!has(in, IN_HOLD_TURN)) {
		s->hold_seen |= 4;
	}
	sense_hands(c, s, in);
	sense_unburnt(s, flame);
}

// The answer to memory or an output that no step can make. Trips and lock are
// what warden_init has left; they are said once more because the proof stands on
// these lines.
/*@ requires \valid(s); assigns *s;
    ensures s->lock == LOCK_LOCKOUT && LOCKED_BY_CAUSE(s) && s->out.bits == OUT_BRAKE; */
static void lock_out(state *s) {
	warden_init(s, NV_LOCKOUT);
	s->trips = CAUSE_BIT(CAUSE_RESTART);
	s->lock = LOCK_LOCKOUT;
	s->out.bits = OUT_BRAKE;
}

// Lets pass what the machines have left, if the last word does.
/*@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \valid_read(p) && \separated(c, s, in, p);
    assigns *s;
    ensures stop: STOP_OFF(in, s->out.bits);
    ensures lockout: LOCKOUT_OFF(s, s->out.bits);
    ensures cause: LOCKED_BY_CAUSE(s);
    ensures fuel: FUEL_LEASED(c, s, s->out.bits);
    ensures press: PRESS_LEASED(c, s, s->out.bits);
    ensures lease: OXYGEN_IN_RUN(c, s, s->out.bits);
    ensures valves: SOUND(s->out.bits);
    ensures flame: p->oxygen == 0 ==> OXYGEN_INTO_FLAME(c, s, s->out.bits);
    ensures stays: p->locked != 0 ==> s->lock == LOCK_LOCKOUT; */
static void judge(const config *c, state *s, const input *in, const past *p) {
	if (corrupt(s) || !last_word(c, s, in, p)) {
		lock_out(s);
		s->nv = NV_LOCKOUT;
		s->out.nv = NV_LOCKOUT;
	}
}

// The order is the argument for safety: what is sensed now decides what has
// tripped now, and only then do the machines act, so that a cause and its
// reaction share one tick.
/*@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \valid(out) && \separated(c, s, in, out);
    assigns *s, *out;
    ensures emergency_stop: STOP_OFF(in, out->bits);
    ensures lockout: LOCKOUT_OFF(s, out->bits);
    ensures lockout_has_cause: LOCKED_BY_CAUSE(s);
    ensures lockout_stays: \old(!DECAYED(s) && STAYS_LOCKED(s, in)) ==> s->lock == LOCK_LOCKOUT;
    ensures fuel_lease: FUEL_LEASED(c, s, out->bits);
    ensures press_lease: PRESS_LEASED(c, s, out->bits);
    ensures oxygen_lease: OXYGEN_IN_RUN(c, s, out->bits);
    ensures oxygen_flame: \old(!DECAYED(s) && (s->out.bits & OUT_OXYGEN) == 0) ==> OXYGEN_INTO_FLAME(c, s, out->bits);
    ensures valves_and_press: SOUND(out->bits);
    ensures decayed_locks: \old(DECAYED(s)) ==> s->lock == LOCK_LOCKOUT; */
void warden_step(const warden_config *c, warden_state *s, const warden_input *in,
	warden_output *out) {
	bool decayed = corrupt(s);
	if (decayed) {
		lock_out(s);
	}
	past p = look_back(s, in);
	p.locked = p.locked || decayed;
	sense(c, s, in);
	step_link(c, s, in);
	step_latch(c, s, in);
	step_burner(c, s, in);
	step_press(c, s, in);
	step_spindle(c, s, in);
	drive(c, s, in);
	judge(c, s, in, &p);
	*out = s->out;
}

uint32_t unburnt_limit(const config *c) {
	return UINT32_C(120) * (UINT32_C(3750) - c->valve_close_ms);
}

bool burner_clear(const config *c, const input *in) {
	return option(c, OPT_BURNER_FIXED) || has(in, IN_BURNER_CLEAR);
}

// The flame can reach the blank. A fixed burner always can.
bool at_blank(const config *c, const input *in) {
	return option(c, OPT_BURNER_FIXED) || has(in, IN_BURNER_AT_BLANK);
}

// The press is open, or at a position named as safe for heating.
bool heat_open(const config *c, const input *in) {
	if (has(in, IN_PRESS_OPEN)) {
		return true;
	}
	return analog_ok(c, in, AI_TRAVEL) && in->analog[AI_TRAVEL] <= c->heat_cmm;
}

// The spindle turns fast enough for heating, or is declared absent.
bool turning(const config *c, const input *in) {
	if (!option(c, OPT_SPINDLE_FITTED)) {
		return true;
	}
	return analog_ok(c, in, AI_SPINDLE) &&
		in->analog[AI_SPINDLE] >= as_signed(c->spindle_heat_drpm);
}

// The spindle turns at more than 1 rpm, or may, since nobody knows.
bool moving(const config *c, const state *s, const input *in) {
	if (!option(c, OPT_SPINDLE_FITTED)) {
		return false;
	}
	return s->spindle != SPINDLE_OFF || !analog_ok(c, in, AI_SPINDLE) ||
		in->analog[AI_SPINDLE] > STANDSTILL_DRPM;
}

bool warden_view_free(const warden_config *c, const warden_state *s, const warden_input *in) {
	return view_free(c, s, in);
}

bool warden_may_stroke(const warden_config *c, const warden_state *s, const warden_input *in) {
	return may_leave_open(c, s, in);
}

uint32_t warden_unburnt_limit(const warden_config *c) { return unburnt_limit(c); }
