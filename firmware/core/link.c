#include "inside.h"

// The link machine: who may ask, and for how long. Every permission is a lease
// of its own; arming and START are edges that a dead link, a trip or the end
// of a cycle voids. Within a cycle an opened door or the host takes motion and
// heat back, and START alone gives them again.

// One leaky integer of the rule "3 bad frames in 1 s or 10 in 6 min": three
// within 1 s leave at least 3 x 60,000 - 1,000, ten within 360 s at least
// 600,000 - 360,000. ERROR_TRIP is in inside.h.
#define ERROR_PER_FRAME UINT32_C(60000)
#define ERROR_MAX       UINT32_C(600000) // saturation

//@ requires \valid(s) && \valid_read(in) && \separated(s, in); assigns *s;
static void count_errors(state *s, const input *in) {
	if (s->error_sum > 0) {
		s->error_sum--;
	}
	uint32_t sum = s->error_sum + ERROR_PER_FRAME * in->bad_frames;
	s->error_sum = sum < ERROR_MAX ? sum : ERROR_MAX;
}

// Takes START and arming back.
void void_start(state *s) {
	if (s->armed != 0) {
		s->used_arm_id = s->arm_id;
	}
	s->armed = 0;
	s->started = 0;
	s->wait = 0;
	s->soft_ms = FOREVER;
}

// Ends every lease: a new host session has no claim on the old one's.
//@ requires \valid(s); assigns *s;
static void expire(state *s) {
	//@ loop invariant i <= NUM_LEASES; loop assigns i, s->lease_ms[0 .. NUM_LEASES - 1]; loop variant NUM_LEASES - i;
	for (uint8_t i = 0; i < NUM_LEASES; i++) {
		s->lease_ms[i] = FOREVER;
	}
	s->link_ms = FOREVER;
	void_start(s);
}

// Lease number i is alive.
bool leased(const config *c, const state *s, uint8_t i) { return s->lease_ms[i] < c->lease_ms; }

// The host no longer holds the cycle that START began.
//@ requires \valid_read(s) && \valid_read(in); assigns \nothing;
static bool dropped(const state *s, const input *in) {
	return in->fresh != 0 &&
		(!asks(in, REQ_ARM | REQ_CYCLE) || in->request.arm_id != s->arm_id);
}

//@ requires \valid_read(s) && \valid_read(in); assigns \nothing;
static bool arm_dropped(const state *s, const input *in) {
	return in->fresh != 0 && (!asks(in, REQ_ARM) || in->request.arm_id != s->arm_id);
}

// A new arming is asked for and nothing stands against it.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool may_arm(const config *c, const state *s, const input *in) {
	return asks(in, REQ_ARM) && in->request.arm_id != 0 &&
		in->request.arm_id != s->used_arm_id && s->lock == LOCK_NONE &&
		s->present == 0 && s->error_sum < ERROR_TRIP && has(in, IN_ESTOP_OK) && !set_up(c, in);
}

// START goes down, after it was seen released, with the safety door closed all
// that time.
//@ requires \valid(s) && \valid_read(in) && \separated(s, in); assigns *s;
static bool start_edge(state *s, const input *in) {
	if (!has(in, IN_DOOR_CLOSED)) {
		s->start_seen = 0;
		return false;
	}
	if (!has(in, IN_START)) {
		s->start_seen = 1;
		return false;
	}
	return s->start_seen != 0;
}

// START was pressed, and nothing has taken motion and heat back since. So the
// safety door is closed.
bool goes(const state *s) { return s->started != 0 && s->wait == 0; }

// A START at the rig would be taken now: the armed lamp says so.
bool start_counts(const config *c, const state *s) {
	return s->armed != 0 || (s->wait != 0 && s->arm_ms > 0 && s->arm_ms < c->arm_ms);
}

// An opened door, and the host where hands are at the moulds, a pause or a hold,
// take motion and heat back; START at the rig alone gives them again, within
// arm_ms of the door's closing or of the host's leave.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void step_waiting(const config *c, state *s, const input *in) {
	if (s->started == 0) {
		s->wait = 0;
		return;
	}
	if (!has(in, IN_DOOR_CLOSED) || asks(in, REQ_HANDS)) {
		s->wait = 1;
		s->arm_ms = 0;
		s->start_seen = 0;
		return;
	}
	if (s->wait == 0) {
		return;
	}
	s->arm_ms = up32(s->arm_ms);
	if (start_edge(s, in) && s->arm_ms < c->arm_ms) {
		s->wait = 0;
		s->soft_ms = FOREVER;
	}
}

//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static void step_arming(const config *c, state *s, const input *in) {
	if (s->armed != 0) {
		s->arm_ms = up32(s->arm_ms);
		if (s->link_ms >= c->lease_ms || s->arm_ms >= c->arm_ms || arm_dropped(s, in) ||
			set_up(c, in)) {
			s->armed = 0;
			s->used_arm_id = s->arm_id;
		}
	}
	if (in->fresh != 0 && s->armed == 0 && s->started == 0 && may_arm(c, s, in)) {
		s->armed = 1;
		s->arm_id = in->request.arm_id;
		s->arm_ms = 0;
		s->start_seen = 0;
		s->window_low = most_signed(in->request.glass_low_dc, c->glass_low_dc);
		s->window_hi = least_signed(in->request.glass_high_dc, c->glass_high_dc);
	}
	if (s->armed == 0) {
		return;
	}
	if (start_edge(s, in)) {
		s->armed = 0;
		s->used_arm_id = s->arm_id;
		s->started = 1;
		s->lit_once = 0;
		s->soft_ms = FOREVER;
	}
}

//@ requires \valid_read(c) && \valid_read(s); assigns \nothing;
static uint8_t link_phase(const config *c, const state *s) {
	if (s->started != 0) {
		return s->wait != 0 ? LINK_WAITING : LINK_STARTED;
	}
	if (s->armed != 0) {
		return LINK_ARMED;
	}
	return s->link_ms < c->lease_ms ? LINK_UP : LINK_DOWN;
}

void step_link(const config *c, state *s, const input *in) {
	//@ loop invariant i <= NUM_LEASES; loop assigns i, s->lease_ms[0 .. NUM_LEASES - 1]; loop variant NUM_LEASES - i;
	for (uint8_t i = 0; i < NUM_LEASES; i++) {
		s->lease_ms[i] = up(s->lease_ms[i]);
	}
	s->link_ms = up(s->link_ms);
	count_errors(s, in);
	if (in->new_session != 0) {
		expire(s);
	}
	if (in->fresh != 0) {
		s->link_ms = 0;
		//@ loop invariant i <= NUM_LEASES; loop assigns i, s->lease_ms[0 .. NUM_LEASES - 1]; loop variant NUM_LEASES - i;
	for (uint8_t i = 0; i < NUM_LEASES; i++) {
			if ((in->request.lease & (1u << i)) != 0) {
				s->lease_ms[i] = 0;
			}
		}
	}
	step_arming(c, s, in);
	if (s->link_ms >= c->lease_ms || dropped(s, in)) {
		s->started = 0;
	}
	step_waiting(c, s, in);
	if (s->started != 0 && has(in, IN_SOFT)) {
		s->soft_ms = 0;
	}
	s->link = link_phase(c, s);
}
