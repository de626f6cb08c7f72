#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>

// EEPROM. A byte takes 3.4 ms to write; nothing here waits for it.

static bool busy(void) { return (EECR & 1 << EEPE) != 0; }

static uint8_t read(uint16_t at) {
	EEAR = at;
	EECR |= 1 << EERE;
	return EEDR;
}

static void write(uint16_t at, uint8_t byte) {
	EEAR = at;
	EEDR = byte;
	uint8_t sreg = SREG;
	cli();
	EECR |= 1 << EEMPE; // within four cycles
	EECR |= 1 << EEPE;
	SREG = sreg;
}

const store_cells eeprom_cells = {read, busy, write};
