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
// target so that it holds its force. 0 where travel is not known.
uint16_t stroke_speed(const warden_output *out, int16_t travel_cmm, bool travel_ok);

// Four counts a period; A leads B while the press closes.
typedef struct {
	int16_t counts;  // since zero, grows while closing, stops at the ends
	uint8_t tracks;  // bit 0 A, bit 1 B, as last seen
	uint8_t skipped; // both tracks changed at once: a count was lost, saturating
} encoder;

// tracks: bit 0 A, bit 1 B.
void encoder_start(encoder *e, uint8_t tracks);
void encoder_step(encoder *e, uint8_t tracks);

// Whether travel may be believed: zeroed at the open end switch, no count lost,
// and the switch not made far from where it sits.
typedef struct {
	bool known;
	bool was_open; // the end switch in the millisecond before
} homing;

// One millisecond. open is the end switch; true asks that the counts be zeroed.
bool homing_step(homing *h, const encoder *e, bool open, int16_t travel_cmm, int16_t open_cmm);

#endif
