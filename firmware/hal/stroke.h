// What the board adds between the warden's press outputs and the drive: the way
// to the target is slowed down and ends there, and an encoder is counted.
//
// It is no end protection: the end switches and the over-force switch act
// without it.
#ifndef STROKE_H
#define STROKE_H

#include "../core/warden.h"

// The speed set-point for the drive, 0.01 mm/s: what the warden asks, at most
// 50 a second times the way that is left. The drive leans 0.1 mm past its
// target so that it holds its force. Where travel is not known it does not
// close, and opens no faster than by hand: that is how it is homed again.
uint16_t stroke_speed(const warden_output *out, int16_t travel_cmm, bool travel_ok);

// Four counts a period; A leads B while the press closes.
typedef struct {
	int16_t counts;  // since power-up, grows while closing, stops at the ends
	uint8_t tracks;  // bit 0 A, bit 1 B, as last seen
	uint8_t skipped; // both tracks changed at once: a count was lost, saturating
} encoder;

// tracks: bit 0 A, bit 1 B.
void encoder_start(encoder *e, uint8_t tracks);
void encoder_step(encoder *e, uint8_t tracks);

// Where the press is, and whether that may be believed. Travel is open_cmm where
// the open end switch changes: that place comes back at each power-up, the one
// where the press happened to rest does not. Until the switch is passed for the
// first time the press that rests on it counts as at its stop, 0.
//
// Travel is believed from the open switch on, as long as no count was lost, it
// agrees with the switch both ways, and it counts while the drive closes. What
// fails for good needs a person: nothing but power gone makes it good again.
typedef struct {
	bool known;
	bool failed;      // until power-up: a lost count, a slip, too many corrections
	bool placed;      // the switch was passed slowly enough to tell its place
	bool settled;     // the same while it was made
	bool running;     // a millisecond has been seen
	bool was_open;    // the end switch in the millisecond before
	uint8_t still_ms; // how long the drive was to move since moved_at was left
	uint8_t astray_ms; // how long travel and switch have said different things
	uint8_t fast_ms;   // for so long yet no place is told
	uint8_t corrections; // since power-up
	int16_t moved_at; // counts
	int16_t travel_cmm;
	int32_t shift_cmm; // from what the counts say to travel
} homing;

// One millisecond. open is the end switch, counted_cmm what the counts say. True:
// h->travel_cmm may be believed. In the millisecond in which it was put right it
// may not, so that nobody takes the correction for a movement.
bool homing_step(homing *h, const encoder *e, bool open, int16_t counted_cmm, int16_t open_cmm);

// Whether the closing drive, given this speed, must show counts: at least
// 2 mm/s, with more than 1 mm to its target. Ask it only before contact: glass
// may hold the press still.
bool stroke_must_count(const warden_output *out, uint16_t speed_cmms, int16_t travel_cmm);

// One millisecond. A drive that must count and for 200 ms does not get 2 counts
// away has a dead track, which turns to and fro by one count, or does not move:
// travel is unknown until the press has been opened.
void homing_watch(homing *h, const encoder *e, bool must_count);

#endif
