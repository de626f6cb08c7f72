//	board [FILE]
//
// FILE keeps the EEPROM. Frames on stdin and stdout: a letter, a length of four bytes, so many bytes;
// each is answered by one. All numbers little-endian. The other end is
// harness.go. GPL-3, see board.h.
//
//	L  u32 address, bytes        load flash
//	W  u32 address of millisecond(), {u16 address, u16 bytes} of RAM to copy
//	   whenever it has ended
//	E  4,096 bytes               set EEPROM        e  get it
//	P  u8 MCUSR, u8 torn, u32 seed   power comes   p  u8 torn, power goes
//	C  u16 percent of 16 MHz     the crystal's frequency
//	H  u8 interrupts on, u8 in millisecond()       hang from now on
//	M  u16 address, u16 bytes    read RAM          m  u16 address, bytes  write
//	S  one millisecond: u32 contacts, u16 millivolts of 10, i32 encoder,
//	   u8 held | watchdog dead | EEPROM dead | track A dead | B dead, then u16 for each byte on its way
#include "board.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST = 1 << 19, STEP_BYTES = 4 + 2 * NUM_CHANNELS + 4 + 1 };

static uint8_t frame[MOST];
static FILE *answers;

static uint16_t u16(const uint8_t *p) { return (uint16_t)(p[0] | p[1] << 8); }
static uint32_t u32(const uint8_t *p) { return u16(p) | (uint32_t)u16(p + 2) << 16; }

static uint8_t *put16(uint8_t *p, uint16_t v) {
	p[0] = (uint8_t)v, p[1] = (uint8_t)(v >> 8);
	return p + 2;
}

static uint8_t *put32(uint8_t *p, uint32_t v) { return put16(put16(p, (uint16_t)v), (uint16_t)(v >> 16)); }

static void answer(char letter, const void *bytes, size_t n) {
	uint8_t head[5] = {(uint8_t)letter};
	put32(head + 1, (uint32_t)n);
	fwrite(head, 1, sizeof head, answers);
	fwrite(bytes, 1, n, answers);
	fflush(answers);
}

static void step(uint32_t n) {
	static uint8_t out[64 + MAX_CAPTURES * CAPTURE_BYTES + TX_MOST];
	step_input in = {.in_bits = u32(frame)};
	const uint8_t *p = frame + 4;
	for (int i = 0; i < NUM_CHANNELS; i++, p += 2) {
		in.millivolts[i] = u16(p);
	}
	in.travel = (int32_t)u32(p);
	in.held = p[4] & 1, in.watchdog_dead = p[4] & 2, in.eeprom_dead = p[4] & 4;
	in.dead_tracks = p[4] >> 3 & 3;
	uint16_t lost = 0;
	for (p += 5; p + 1 < frame + n; p += 2) {
		lost += !board_send(u16(p));
	}
	step_output o;
	board_step(&in, &o);
	uint8_t *q = put32(put32(out, (uint32_t)avr->cycle), (uint32_t)(avr->cycle >> 32));
	q = put16(put16(q, o.level), o.high);
	for (int i = 0; i < NUM_SETPOINTS; i++) {
		q = put16(q, o.steps[i]);
	}
	q = put16(put32(put16(q, o.pulses), o.longest), o.stack);
	*q++ = o.resets, *q++ = o.state;
	q = put16(put16(put16(q, o.overruns), o.early_writes), lost);
	*q++ = o.captures;
	memcpy(q, captured, (size_t)o.captures * capture_bytes);
	q += (size_t)o.captures * capture_bytes;
	q += board_sent(q);
	answer('S', out, (size_t)(q - out));
}

static bool ram(uint16_t at, uint32_t n) { return at + n <= avr->ramend + 1u; }

// Acts on one frame; false: it is none that this program knows.
static bool act(char letter, uint32_t n) {
	if (letter == 'S' && n >= STEP_BYTES) {
		step(n);
	} else if (letter == 'L' && n >= 4) {
		board_load(u32(frame), frame + 4, n - 4);
		answer(letter, "", 0);
	} else if (letter == 'W' && n >= 4) {
		board_watch(u32(frame), frame + 4, n - 4);
		answer(letter, "", 0);
	} else if (letter == 'E' && n == EEPROM_BYTES) {
		memory_load(frame);
		answer(letter, "", 0);
	} else if (letter == 'e' && n == 0) {
		answer(letter, memory_cells(), EEPROM_BYTES);
	} else if (letter == 'P' && n == 6) {
		board_power(frame[0], frame[1], u32(frame + 2));
		answer(letter, "", 0);
	} else if (letter == 'p' && n == 1) {
		board_cut(frame[0]);
		answer(letter, "", 0);
	} else if (letter == 'C' && n == 2) {
		board_clock(u16(frame));
		answer(letter, "", 0);
	} else if (letter == 'H' && n == 2) {
		board_hang(frame[0], frame[1]);
		answer(letter, "", 0);
	} else if (letter == 'M' && n == 4 && ram(u16(frame), u16(frame + 2))) {
		answer(letter, avr->data + u16(frame), u16(frame + 2));
	} else if (letter == 'm' && n >= 2 && ram(u16(frame), n - 2)) {
		memcpy(avr->data + u16(frame), frame + 2, n - 2);
		answer(letter, "", 0);
	} else {
		return false;
	}
	return true;
}

int main(int argc, char **argv) {
	setvbuf(stdout, NULL, _IONBF, 0);
	answers = fdopen(dup(1), "wb");
	if (answers == NULL || dup2(2, 1) < 0 || !board_make(argc > 1 ? argv[1] : NULL)) { // the emulator talks on stdout
		fprintf(stderr, "no atmega2560, or no file of %d bytes for its EEPROM\n", EEPROM_BYTES);
		return 3;
	}
	uint8_t head[5];
	while (fread(head, 1, sizeof head, stdin) == sizeof head) {
		uint32_t n = u32(head + 1);
		if (n > MOST || fread(frame, 1, n, stdin) != n || !act((char)head[0], n)) {
			fprintf(stderr, "frame '%c' of %u bytes is none that is understood\n", head[0], n);
			return 2;
		}
	}
	return 0;
}
