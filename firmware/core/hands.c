#include "inside.h"

// Two-hand control and set-up mode: what a person may move with the door open.
//
// Two hands on two actuators are where the hands are; they protect this one
// person and nobody else. They stand in for the closed door in a stroke and in
// hold-to-run, never for gas or for a spindle that turns faster than in set-up.

// Speed above which a spindle is not turning slowly: 50 rpm, the usual limit
// of set-up modes.
#define SET_UP_MOST_DRPM 500

//@ requires \valid_read(c) && \valid(h) && \separated(c, h); assigns *h;
static void step_hands(const config *c, warden_hands *h, bool a, bool b) {
	if (!a && !b) {
		h->ready = 1;
		h->given = 0;
		h->ms = 0;
	} else if (a && b) {
		if (h->ready != 0 && h->ms <= c->hands_ms) {
			h->given = 1;
		}
		h->ready = 0;
	} else {
		h->given = 0;
		h->ms = up(h->ms);
	}
}

void sense_hands(const config *c, state *s, const input *in) {
	bool left = pressed(c, in, IN_TWO_HAND_LEFT);
	step_hands(c, &s->hands[HANDS_STROKE], left, pressed(c, in, IN_TWO_HAND_RIGHT));
	step_hands(c, &s->hands[HANDS_CLOSE], left, pressed(c, in, IN_HOLD_CLOSE));
	step_hands(c, &s->hands[HANDS_TURN], left, pressed(c, in, IN_HOLD_TURN));
}

// Remembers whether a stroke runs with the door open, and takes the two hands
// back once it is over: the next one wants both released first.
void mark_hand_stroke(state *s, const input *in) {
	if (has(in, IN_DOOR_CLOSED)) {
		s->hand_stroke = 0;
	} else if (pushing(s)) {
		s->hand_stroke = 1;
	} else if (s->hand_stroke != 0 && has(in, IN_PRESS_OPEN)) {
		s->hand_stroke = 0;
		s->hands[HANDS_STROKE].given = 0;
	}
}

bool pressed(const config *c, const input *in, uint32_t bit) { return fitted(c, bit) && has(in, bit); }

// Hold-to-run needs the door closed, or the other hand held too.
bool hand_guarded(const state *s, const input *in, uint8_t pair) {
	return has(in, IN_DOOR_CLOSED) || s->hands[pair].given != 0;
}

// With the door open the press moves only under two hands: their row (34) or
// hold-to-run in set-up stands in for the door's.
bool hands_on_press(const config *c, const state *s, const input *in) {
	return set_up(c, in) || s->hand_stroke != 0 || s->hands[HANDS_STROKE].given != 0;
}

// Two hands were let go in a stroke that they protect.
bool hands_released(const state *s) {
	bool stroke = pushing(s) || s->press == PRESS_EASING || host_opening(s);
	return s->hand_stroke != 0 && s->hands[HANDS_STROKE].given == 0 && stroke;
}

// The key switch stands at set-up: no cycle, no gas, hold-to-run only.
bool set_up(const config *c, const input *in) { return pressed(c, in, IN_SET_UP); }

// A cycle or what is left of it, none of which belongs into set-up.
bool working(const state *s) {
	return s->started != 0 || gas_active(s) || s->spindle == SPINDLE_RUN ||
		s->spindle == SPINDLE_CREEP || pushing(s) || s->press == PRESS_OPENING;
}

// In set-up the spindle may turn with the door open, slowly, by hold-to-run or
// running out after it.
bool turning_slowly(const config *c, const state *s, const input *in) {
	return set_up(c, in) && s->spindle != SPINDLE_RUN && s->spindle != SPINDLE_CREEP &&
		analog_ok(c, in, AI_SPINDLE) && in->analog[AI_SPINDLE] <= SET_UP_MOST_DRPM;
}

// A person turns the spindle by hold-to-run, in set-up only, where a cycle that
// still runs has tripped.
bool hand_turn(const config *c, const state *s, const input *in) {
	return set_up(c, in) && pressed(c, in, IN_HOLD_TURN) && (s->hold_seen & 4) != 0 &&
		hand_guarded(s, in, HANDS_TURN) && s->lock == LOCK_NONE && !fuel_open(s);
}
