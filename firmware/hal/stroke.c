#include "stroke.h"

enum {
	LEAN_CMM    = 10,  // past the target
	FALL_PER_S  = 50,  // speed for each unit of way that is left
	SLACK_CMM   = 100, // the end switch made this far past its place: the encoder lies
	BLIND_CMMS  = 1000, // opening with travel unknown; the most that hold-to-run may have
	COUNT_CMMS  = 200, // a drive this fast,
	COUNT_CMM   = 100, // this far from its target,
	STILL_MS    = 200, // moves within this time, its brake's release included,
	STILL_COUNT = 1,   // by more counts than a dead track makes
};

uint16_t stroke_speed(const warden_output *out, int16_t travel_cmm, bool travel_ok) {
	if ((out->bits & (OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) == 0) {
		return 0;
	}
	if (!travel_ok) {
		uint16_t blind = out->speed_cmms < BLIND_CMMS ? out->speed_cmms : BLIND_CMMS;
		return (out->bits & OUT_PRESS_CLOSE) != 0 ? 0 : blind;
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

// What a change of the tracks counts: by the old ones in bits 3 and 2 (B, A) and
// the new ones in bits 1 and 0. 2 is both at once, of which the way is unknown.
static const int8_t counted[16] = {0, 1, -1, 2, -1, 0, 2, 1, 1, 2, 0, -1, 2, -1, 1, 0};

void encoder_start(encoder *e, uint8_t tracks) { *e = (encoder){.tracks = tracks & 3u}; }

void encoder_step(encoder *e, uint8_t tracks) {
	tracks &= 3u;
	int8_t n = counted[(uint8_t)(e->tracks << 2) | tracks];
	e->tracks = tracks;
	if (n == 1 && e->counts < INT16_MAX) {
		e->counts++;
	} else if (n == -1 && e->counts > INT16_MIN) {
		e->counts--;
	} else if (n == 2 && e->skipped < UINT8_MAX) {
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

bool stroke_must_count(const warden_output *out, uint16_t speed_cmms, int16_t travel_cmm) {
	return (out->bits & OUT_PRESS_CLOSE) != 0 && speed_cmms >= COUNT_CMMS &&
		(int32_t)out->travel_cmm - travel_cmm > COUNT_CMM;
}

void homing_watch(homing *h, const encoder *e, bool must_count) {
	uint16_t moved = (uint16_t)((uint16_t)e->counts - (uint16_t)h->moved_at + STILL_COUNT);
	if (!must_count || moved > 2 * STILL_COUNT) { // beyond the count to either side
		h->still_ms = 0;
		h->moved_at = e->counts;
		return;
	}
	h->still_ms++;
	if (h->still_ms >= STILL_MS) {
		h->still_ms = 0;
		h->known = false;
	}
}
