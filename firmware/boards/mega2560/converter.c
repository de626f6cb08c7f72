#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>

// Each millisecond glass, force and spindle, and one of the eight slow ones in
// turn: four conversions of 104 microseconds at 125 kHz. Two of the slow ones are
// the converter's own references.
enum {
	EACH_MS   = 4,
	FAST      = 3,
	SLOW      = 8,
	BANDGAP   = NUM_ANALOG,     // indices of counts behind the inputs
	GROUND    = NUM_ANALOG + 1,
	ALL       = NUM_ANALOG + 2,
	// 1.1 V of 5 V, +-10 % of the reference (data sheet: 1.0 to 1.2 V) and of the supply.
	BANDGAP_LEAST = 180,
	BANDGAP_MOST  = 280,
	GROUND_MOST   = 8,
	STUCK_MS      = 3,
};

typedef struct {
	uint8_t ai;
	uint8_t mux; // MUX4..0, bit 5 is MUX5
} channel;

static const channel fast[FAST] = {{AI_GLASS, 0}, {AI_FORCE, 3}, {AI_SPINDLE, 0x20}};
static const channel slow[SLOW] = {
	{AI_MOULD_LOWER, 1}, {AI_MOULD_UPPER, 2}, {BANDGAP, 0x1E}, {AI_FUEL_FLOW, 4},
	{AI_OXYGEN_FLOW, 5}, {GROUND, 0x1F}, {AI_FUEL_PRESSURE, 6}, {AI_OXYGEN_PRESSURE, 7},
};

static volatile uint16_t counts[ALL];
static volatile uint8_t fresh[ALL];
static volatile uint8_t step; // conversions done in this millisecond
static uint8_t turn;          // of slow
static uint8_t stuck_ms;

static const channel *at(uint8_t i) { return i < FAST ? &fast[i] : &slow[turn]; }

static void convert(uint8_t i) {
	uint8_t mux = at(i)->mux;
	ADMUX = (uint8_t)(1 << REFS0 | (mux & 0x1F));
	ADCSRB = (mux & 0x20) != 0 ? 1 << MUX5 : 0;
	ADCSRA |= 1 << ADSC;
}

ISR(ADC_vect) {
	uint8_t i = step;
	if (i >= EACH_MS) {
		return;
	}
	uint8_t ai = at(i)->ai;
	counts[ai] = ADC;
	fresh[ai] = 1;
	i++;
	step = i;
	if (i < EACH_MS) {
		convert(i);
	}
}

void converter_start(void) {
	ADCSRA = 1 << ADEN | 1 << ADIE | 1 << ADPS2 | 1 << ADPS1 | 1 << ADPS0;
	step = EACH_MS;
	counts[BANDGAP] = BANDGAP_LEAST;
}

void converter_begin(void) {
	if (step < EACH_MS) {
		stuck_ms = (uint8_t)(stuck_ms < STUCK_MS ? stuck_ms + 1 : STUCK_MS);
		return; // let it end
	}
	stuck_ms = 0;
	turn = (uint8_t)(turn + 1) & (SLOW - 1);
	step = 0;
	convert(0);
}

static uint16_t count_of(uint8_t i) {
	uint8_t sreg = SREG;
	cli();
	uint16_t n = counts[i];
	fresh[i] = 0;
	SREG = sreg;
	return n;
}

bool converter_works(void) {
	uint16_t bandgap = count_of(BANDGAP);
	return stuck_ms < STUCK_MS && bandgap >= BANDGAP_LEAST && bandgap <= BANDGAP_MOST &&
		count_of(GROUND) <= GROUND_MOST;
}

bool converter_new(uint8_t ai) { return fresh[ai] != 0; }

uint16_t converter_counts(uint8_t ai) { return count_of(ai); }
