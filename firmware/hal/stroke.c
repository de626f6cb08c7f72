#include "stroke.h"

enum {
	LEAN_CMM    = 10,  // past the target
	FALL_PER_S  = 50,  // speed for each unit of way that is left
	SLACK_CMM   = 100, // the end switch made this far past its place: the encoder lies
};

uint16_t stroke_speed(const warden_output *out, int16_t travel_cmm, bool travel_ok) {
	if ((out->bits & (OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) == 0 || !travel_ok) {
		return 0;
	}
	int32_t left = (int32_t)out->travel_cmm - travel_cmm;
	if ((out->bits & OUT_PRESS_CLOSE) != 0) {
		left += LEAN_CMM;
	} else {
		left = LEAN_CMM - left;
	}
	if (left <= 0) {
		return 0;
	}
	int32_t most = left * FALL_PER_S;
	return most < out->speed_cmms ? (uint16_t)most : out->speed_cmms;
}

// Gray code to a number that grows while closing: 00, 10, 11, 01 of A and B.
static uint8_t phase_of(bool a, bool b) {
	if (b) {
		return a ? 2 : 3;
	}
	return a ? 1 : 0;
}

void encoder_start(encoder *e, bool a, bool b) { *e = (encoder){.phase = phase_of(a, b)}; }

void encoder_step(encoder *e, bool a, bool b) {
	uint8_t now = phase_of(a, b);
	uint8_t way = (uint8_t)(now - e->phase) & 3u;
	e->phase = now;
	if (way == 1 && e->counts < INT16_MAX) {
		e->counts++;
	} else if (way == 3 && e->counts > INT16_MIN) {
		e->counts--;
	} else if (way == 2 && e->skipped < UINT8_MAX) {
		e->skipped++;
	}
}

bool homing_step(homing *h, const encoder *e, bool open, int16_t travel_cmm, int16_t open_cmm) {
	bool zero = false;
	bool far = (int32_t)travel_cmm > (int32_t)open_cmm + SLACK_CMM;
	if (e->skipped != 0 || (open && h->known && far)) {
		h->known = false;
	} else if (open && !h->was_open && !h->known) {
		h->known = true; // it comes to rest at the stop, which is the zero
		zero = true;
	}
	h->was_open = open;
	return zero;
}
