#include "stroke.h"

#include "within.h"

enum {
	LEAN_CMM    = 10,  // past the target
	FALL_PER_S  = 50,  // speed for each unit of way that is left
	BLIND_CMMS  = 1000, // opening with travel unknown; the most that hold-to-run may have
	COUNT_CMMS  = 200, // a drive this fast,
	COUNT_CMM   = 100, // this far from its target,
	STILL_MS    = 200, // moves within this time, its brake's release included,
	STILL_COUNT = 1,   // by more counts than a dead track makes
};

// The open switch as the place where travel is held to what the rig is. A slip
// beyond SLIP_CMM spoils pressed parts and, at the far end, has the mould halves
// meet before the drive slows down. Below NEAR_CMM nothing is corrected: the
// contact is looked at once a millisecond, 0.06 mm at 60 mm/s, and an end switch
// repeats within 0.1 mm (common practice, no source). Within FOLLOW_MS of moving
// faster than PASS_CMM a millisecond its place is not known so well, and the next
// passage tells. A contact that bounces or is slow may stray from travel for
// FOLLOW_MS.
enum {
	SLIP_CMM    = 50,
	NEAR_CMM    = 20,
	PASS_CMM    = 10,
	FOLLOW_MS   = 20,
	CORRECTIONS = 3, // since power-up: twice is dirt, three times an encoder that goes on slipping
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

// From here on travel is where_cmm.
static void put(homing *h, int16_t counted_cmm, int16_t where_cmm) {
	h->shift_cmm = (int32_t)where_cmm - counted_cmm;
	h->travel_cmm = where_cmm;
}

// The switch is passed, either way. It has to be found where it sits: within the
// way between stop and switch the first time, as only the stop was known till
// then; to half a millimetre later. From the first time on the switch is what
// travel is counted from, and from the first time it was made each correction
// counts: a switch opens a little farther on than it closes. True when travel was
// put right.
static bool pass(homing *h, bool made, int16_t counted_cmm, int16_t open_cmm) {
	int32_t slip = (int32_t)h->travel_cmm - open_cmm;
	int32_t least = h->placed ? -SLIP_CMM : -SLIP_CMM - (int32_t)open_cmm;
	if (slip > SLIP_CMM || slip < least) {
		h->failed = true;
		return false;
	}
	bool right = slip <= NEAR_CMM && slip >= -NEAR_CMM;
	if (!right) {
		put(h, counted_cmm, open_cmm);
		h->corrections = (uint8_t)(h->corrections + (h->settled ? 1 : 0));
		h->failed = h->corrections >= CORRECTIONS;
	}
	h->placed = true;
	h->settled = h->settled || made;
	return !right;
}

// Travel and the switch say different things: made beyond its place, or not made
// although travel says open. Which of the two lies does not matter.
static bool astray(const homing *h, bool open, int16_t open_cmm) {
	if (open) {
		return h->known && (int32_t)h->travel_cmm > (int32_t)open_cmm + SLIP_CMM;
	}
	return h->known && h->placed && (int32_t)h->travel_cmm < (int32_t)open_cmm - SLIP_CMM;
}

bool homing_step(homing *h, const encoder *e, bool open, int16_t counted_cmm, int16_t open_cmm) {
	bool put_right = false;
	bool made = open && h->running && !h->was_open;
	bool left = !open && h->was_open;
	int16_t before = h->travel_cmm;
	h->travel_cmm = within16((int32_t)counted_cmm + h->shift_cmm);
	int32_t gone = (int32_t)h->travel_cmm - before;
	if (gone > PASS_CMM || gone < -PASS_CMM) {
		h->fast_ms = FOLLOW_MS;
	} else if (h->fast_ms > 0) {
		h->fast_ms--;
	}
	bool slow = h->fast_ms == 0;
	h->failed = h->failed || e->skipped != 0;
	if (open && !h->running) {
		h->known = true; // the press rests between its stop, which is 0, and the switch
	} else if (made && !h->known && !h->placed) {
		put(h, counted_cmm, open_cmm);
		h->placed = h->settled = slow;
		h->known = true;
		put_right = true;
	} else if (slow && (made || (left && h->known && !h->placed))) {
		put_right = pass(h, made, counted_cmm, open_cmm);
		h->known = true;
	}
	h->astray_ms = (uint8_t)(astray(h, open, open_cmm) ? h->astray_ms + 1 : 0);
	h->failed = h->failed || h->astray_ms >= FOLLOW_MS;
	h->known = h->known && !h->failed;
	h->running = true;
	h->was_open = open;
	return h->known && !put_right;
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
