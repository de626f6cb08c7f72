#include "board.h"
#include "block.h"

#include "../../core/wire_inside.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>

// Kept over a reset that is not a power-on.
uint16_t ended_because __attribute__((section(".noinit")));
static uint16_t proving __attribute__((section(".noinit")));
static uint8_t proving_cause __attribute__((section(".noinit")));

#define MANY 40000u // turns, some 30 ms: twice the watchdog's time

enum {
	PROVING = 0x5AC3,
	PAINT   = 0xC5,
};

static uint8_t cause;
static bool bites;

extern uint8_t _end; // of all variables, by the linker

// Before anything uses memory: every byte holds 55 and AA, and gets back what it
// had. A cell that does not stops the program here, with all pins inputs.
void march(void) __attribute__((naked, used, section(".init3")));
void march(void) {
	__asm__ volatile(
		"wdr\n\t" // it may still run, at its shortest, after a reset by it
		"ldi r30, lo8(0x0200)\n\t"
		"ldi r31, hi8(0x0200)\n\t"
		"ldi r18, 0x55\n\t"
		"ldi r19, 0xAA\n\t"
		"ldi r22, hi8(0x2200)\n"
		"1: ld r20, Z\n\t"
		"st Z, r18\n\t"
		"ld r21, Z\n\t"
		"cp r21, r18\n\t"
		"brne 2f\n\t"
		"st Z, r19\n\t"
		"ld r21, Z\n\t"
		"cp r21, r19\n\t"
		"brne 2f\n\t"
		"st Z+, r20\n\t"
		"cpi r30, lo8(0x2200)\n\t"
		"cpc r31, r22\n\t"
		"brne 1b\n\t"
		"rjmp 3f\n"
		"2: rjmp 2b\n"
		"3: wdr\n\t" ::
			: "r18", "r19", "r20", "r21", "r22", "r30", "r31", "memory");
}

// At power-on the watchdog is left alone until it resets; only then it is known
// to bite. Outputs are still inputs.
bool start_watchdog_bites(void) {
	cause = MCUSR;
	MCUSR = 0;
	if (proving == PROVING && (cause & 1 << WDRF) != 0) {
		proving = 0;
		cause = proving_cause;
		bites = true;
	} else if ((cause & (1 << PORF | 1 << BORF | 1 << EXTRF)) == 0 && (cause & 1 << WDRF) != 0) {
		bites = true; // it has just done so
	} else {
		ended_because = 0;
		proving = PROVING;
		proving_cause = cause;
		wdt_enable(WDTO_15MS);
		for (volatile uint16_t i = 0; i < MANY; i++) {
		}
		proving = 0;
		bites = false;
	}
	wdt_enable(WDTO_500MS); // for the rest of the start
	wdt_reset();
	return bites;
}

uint8_t start_cause(void) { return cause; }

uint8_t block_byte(uint16_t at) { return pgm_read_byte_near(BLOCK_ADDRESS + at); }

bool start_flash_whole(const fitting *f) {
	if (f->length == 0 || f->length > BLOCK_ADDRESS) {
		return false;
	}
	uint32_t crc = UINT32_MAX;
	for (uint16_t i = 0; i < (uint16_t)f->length; i++) {
		crc = wire_crc(crc, pgm_read_byte_near(i));
	}
	return ~crc == f->program;
}

// The stack is painted once, from the end of the variables to a little below
// where it stands, and looked at a few bytes at a time.
void paint(void) __attribute__((naked, used, section(".init3")));
void paint(void) {
	__asm__ volatile(
		"ldi r30, lo8(_end)\n\t"
		"ldi r31, hi8(_end)\n\t"
		"ldi r18, 0xC5\n\t"
		"ldi r22, hi8(0x2200)\n"
		"1: st Z+, r18\n\t"
		"cpi r30, lo8(0x2200)\n\t"
		"cpc r31, r22\n\t"
		"brne 1b\n\t"
		"wdr\n\t" ::
			: "r18", "r22", "r30", "r31", "memory");
}

uint16_t start_free_stack(void) {
	static uint8_t *reached; // all below is unused
	if (reached == 0) {
		reached = &_end;
	}
	for (uint8_t i = 0; i < 32 && reached < (uint8_t *)SP && *reached == PAINT; i++) {
		reached++;
	}
	if (reached < (uint8_t *)SP && *reached == PAINT) {
		return 0; // not there yet
	}
	uint16_t bytes = (uint16_t)(reached - &_end);
	reached = &_end;
	return bytes;
}
