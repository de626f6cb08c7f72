#include "inside.h"

// What the press feels. A stroke that nobody can feel is a blind stroke: a
// fitted force or travel channel that is broken, out of range or frozen while
// the press moves or works ends it.

#define SENSING_MS 20  // broken this long: a stroke at full speed has gone 1.2 mm
#define UNFELT_MS  300 // at the stop without force
#define STAND_MS   500 // driven, and travel stands

// Travel that counts as standing, the least speed for which that is judged (it
// goes 0.5 mm in STAND_MS), and how near its target a press need not move.
#define STAND_CMM       10
#define STAND_CMMS      100
#define NEARLY_CMM      50
#define AT_THE_STOP_CMM 5

// A channel that exists cannot be read.
//@ requires \valid_read(c) && \valid_read(in) && ai < NUM_ANALOG; assigns \nothing;
static bool broken(const config *c, const input *in, uint8_t ai) {
	return (c->fitted_analog & analog_bit(ai)) != 0 && (in->analog_ok & analog_bit(ai)) == 0;
}

// Nothing that is fitted to feel the press is broken, and a drive has both
// travel and force; a press that a person pulls is felt by that person.
bool feels(const config *c, const input *in) {
	if (option(c, OPT_PRESS_DRIVEN)) {
		return analog_ok(c, in, AI_TRAVEL) && analog_ok(c, in, AI_FORCE);
	}
	return !broken(c, in, AI_TRAVEL) && !broken(c, in, AI_FORCE);
}

// What is fitted to feel the press can be read, and force is at rest.
bool sensed(const config *c, const input *in) {
	if (broken(c, in, AI_TRAVEL) || broken(c, in, AI_FORCE)) {
		return false;
	}
	return (c->fitted_analog & analog_bit(AI_FORCE)) == 0 || in->analog[AI_FORCE] < as_signed(c->contact_dn);
}

// How far the press is from the target that is driven.
//@ requires \valid_read(s) && \valid_read(in); assigns \nothing;
static int32_t to_go_cmm(const state *s, const input *in) {
	return (int32_t)s->out.travel_cmm - (int32_t)in->analog[AI_TRAVEL];
}

// A stroke that presses to a stop has come there and felt nothing.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool unfelt(const config *c, const state *s, const input *in) {
	return option(c, OPT_PRESS_DRIVEN) && s->press == PRESS_CLOSING && in->request.press == PRESS_FORCE &&
		analog_ok(c, in, AI_FORCE) && analog_ok(c, in, AI_TRAVEL) && !has(in, IN_PRESS_OPEN) &&
		to_go_cmm(s, in) <= AT_THE_STOP_CMM;
}

// The drive is told to close, nothing is felt, and travel does not change.
// Either the channel is frozen or the press is caught: nobody knows.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool stands(const config *c, const state *s, const input *in) {
	bool closing = s->press == PRESS_CLOSING || s->press == PRESS_HAND_CLOSE;
	if (!closing || !option(c, OPT_PRESS_DRIVEN) || !analog_ok(c, in, AI_TRAVEL) ||
		s->out.speed_cmms < STAND_CMMS) {
		return false;
	}
	int32_t gone_cmm = (int32_t)in->analog[AI_TRAVEL] - (int32_t)s->stand_cmm;
	return to_go_cmm(s, in) > NEARLY_CMM && gone_cmm > -STAND_CMM && gone_cmm < STAND_CMM;
}

void detect_sensing(const config *c, state *s, const input *in, cause_set *set) {
	bool works = pushing(s) || s->press == PRESS_OPENING || s->press == PRESS_EASING ||
		s->press == PRESS_HAND_CLOSE;
	s->force_lost_ms = count_while(works && broken(c, in, AI_FORCE), s->force_lost_ms);
	s->travel_lost_ms = count_while(works && broken(c, in, AI_TRAVEL), s->travel_lost_ms);
	s->unfelt_ms = count_while(unfelt(c, s, in), s->unfelt_ms);
	s->stand_ms = count_while(stands(c, s, in), s->stand_ms);
	if (s->stand_ms == 0) {
		s->stand_cmm = in->analog[AI_TRAVEL];
	}
	mark(set, CAUSE_FORCE_LOST, s->force_lost_ms >= SENSING_MS || s->unfelt_ms >= UNFELT_MS);
	mark(set, CAUSE_TRAVEL_LOST, s->travel_lost_ms >= SENSING_MS || s->stand_ms >= STAND_MS);
}
