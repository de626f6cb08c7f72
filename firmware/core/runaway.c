#include "inside.h"

// What moves as nobody asked: the spindle too fast, backwards, or where it has
// to stand, hold-to-run faster than a hand can follow, and whatever turns or
// presses in a chuck that does not hold.

#define FAST_MS        200 // spindle above its limit
#define CHUCK_MS       100 // chuck seen open
#define HAND_WINDOW_MS 100 // hold-to-run is measured over this

// A speed that no offset of a sensor reads: 5 rpm the wrong way.
#define BACKWARDS_DRPM (-50)

// What a reading may lie above the limit, beside an eighth of it.
#define SPARE_DRPM 50

// A fitted switch says that the chuck is not clamped.
bool chuck_open(const config *c, const input *in) {
	return fitted(c, IN_CHUCK_CLAMPED) && !has(in, IN_CHUCK_CLAMPED);
}

// With the mould halves in contact the spindle has to stand.
//@ requires \valid_read(c); assigns \nothing;
static bool still_in_contact(const config *c) { return !option(c, OPT_SPINDLE_TURNS); }

// Above what it may ever do, or above set-up's limit by hand, or backwards. Only
// a sensor that can show it can say so (the profile's check).
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool spindle_fast(const config *c, const state *s, const input *in) {
	if (!option(c, OPT_SPINDLE_FITTED) || !analog_ok(c, in, AI_SPINDLE)) {
		return false;
	}
	uint32_t most = c->spindle_max_drpm;
	if (s->spindle == SPINDLE_HAND) {
		most = c->set_up_drpm;
	}
	int16_t speed = in->analog[AI_SPINDLE];
	return (int32_t)speed > (int32_t)(most + (most >> 3) + SPARE_DRPM) || speed < BACKWARDS_DRPM;
}

// Measures hold-to-run of the press: more than half as fast again as it may, and
// 0.2 mm, over a tenth of a second.
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
static bool hand_fast(const config *c, state *s, const input *in) {
	bool by_hand = s->press == PRESS_HAND_OPEN || s->press == PRESS_HAND_CLOSE;
	if (!by_hand || !option(c, OPT_PRESS_DRIVEN) || !analog_ok(c, in, AI_TRAVEL)) {
		s->hand_ms = 0;
		return false;
	}
	if (s->hand_ms == 0) {
		s->hand_from_cmm = in->analog[AI_TRAVEL];
	}
	s->hand_ms = up(s->hand_ms);
	int32_t gone = (int32_t)in->analog[AI_TRAVEL] - (int32_t)s->hand_from_cmm;
	if (gone < 0) {
		gone = -gone;
	}
	if (s->hand_ms >= HAND_WINDOW_MS) {
		s->hand_ms = 0;
	}
	uint32_t speed = c->hand_cmms; // 0.01 mm/s: a tenth of it is what may be gone in the window
	return gone * 10 > (int32_t)(speed + (speed >> 1) + 200);
}

void detect_runaway(const config *c, state *s, const input *in, cause_set *set) {
	s->fast_ms = count_while(spindle_fast(c, s, in), s->fast_ms);
	mark(set, CAUSE_SPINDLE_FAST, s->fast_ms >= FAST_MS);
	bool asked = leased(c, s, I_SPINDLE) && in->request.spindle_drpm > 0 && goes(s);
	mark(set, CAUSE_SPINDLE_ASKED, asked && s->touching != 0 && pushing(s) && still_in_contact(c));
	mark(set, CAUSE_HAND_FAST, hand_fast(c, s, in));
	bool works = s->spindle != SPINDLE_OFF || pushing(s);
	s->chuck_ms = count_while(works && chuck_open(c, in), s->chuck_ms);
	mark(set, CAUSE_CHUCK, s->chuck_ms >= CHUCK_MS);
}
