// What the files of the wire share; wire.h is the way in.
#ifndef WIRE_INSIDE_H
#define WIRE_INSIDE_H

#include "wire.h"

// Appends one byte. There is room by the sizes in wire.h; without it the line
// is marked full, so that nothing is sent rather than half a frame.
static inline void put8(wire_line *line, uint8_t v) {
	if (line->n < WIRE_LINE_BYTES) {
		line->bytes[line->n] = v;
		line->n++;
	} else {
		line->n = UINT8_MAX;
	}
}

static inline void put16(wire_line *line, uint16_t v) {
	put8(line, (uint8_t)(v & 0xFFu));
	put8(line, (uint8_t)(v >> 8));
}

static inline void put32(wire_line *line, uint32_t v) {
	put16(line, (uint16_t)(v & UINT32_C(0xFFFF)));
	put16(line, (uint16_t)(v >> 16));
}

static inline void put64(wire_line *line, uint64_t v) {
	put32(line, (uint32_t)(v & UINT32_MAX));
	put32(line, (uint32_t)(v >> 32));
}

// One byte more of a CRC-32C (crc.c). Start with ~0, and invert at the end.
uint32_t wire_crc(uint32_t crc, uint8_t byte);

// The CRC-32C of a frame's salt, which is never sent, and then of header and
// payload. from: 'H' for a frame of the host, 'M' of the microcontroller.
uint32_t wire_checksum(uint8_t from, const uint8_t *frame, uint8_t size);

// Begins a frame at the end of the line: room for the code byte, then header.
void begin_frame(wire_line *line, const wire_header *h, uint8_t class, uint8_t payload);

// Ends the frame that was begun at start: CRC, stuffing in place, delimiter.
void end_frame(wire_line *line, uint8_t start);

#endif
