// What the microcontroller says and when, after PROTOCOL.md 4.1 and 5: with a
// pair a snapshot every 10 ms and everything else between two of them, one frame
// at a time; without one hello, once a second. Runs in the background, never in
// the millisecond.
#ifndef SPEAKER_H
#define SPEAKER_H

#include "../core/wire.h"

enum {
	SPEAKER_SNAPSHOT_MS = 10,
	SPEAKER_HELLO_MS    = 1000,
	SPEAKER_EVENT_MS    = 100,
	SPEAKER_EVENTS      = 8, // that wait; one more replaces the newest
};

typedef struct {
	uint16_t code;
	uint32_t value;
	uint32_t stamp_ms;
} speaker_event;

typedef struct {
	wire_header header; // seq is the newest sent
	wire_hello hello;   // all but the stamp
	bool hello_due;
	bool piece_due;
	uint8_t piece;
	uint8_t events;     // that wait
	uint32_t event_ms;  // when the newest was sent
	speaker_event event[SPEAKER_EVENTS];
} speaker;

void speaker_start(speaker *p, uint16_t device, uint32_t session, const wire_hello *hello);
void speaker_tell(speaker *p, uint16_t code, uint32_t value, uint32_t now_ms);

// Acts on an accepted frame other than a request.
void speaker_hear(speaker *p, const wire_frame *f);

// A frame that is due now other than a snapshot, or an empty line.
void speaker_other(speaker *p, wire_line *line, uint32_t peer, uint32_t now_ms, const warden_config *c);

// What the warden saw, drove and remembers of one millisecond, copied.
typedef struct {
	uint32_t stamp_ms;
	warden_input in;
	warden_output out;
	warden_state state;
	uint16_t flags; // PROTOCOL.md 6.7
	uint16_t bad_frames;
	uint16_t gaps;
	uint16_t echo_seq;
} speaker_view;

void speaker_snapshot(speaker *p, wire_line *line, uint32_t peer, const speaker_view *v);

#endif
