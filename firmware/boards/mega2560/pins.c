#include "board.h"
#include "pins.h"

#include <avr/interrupt.h>
#include <avr/io.h>

// Masks of the output pins; a test holds them to the one list.
enum {
	OUT_B = 0xF0,
	OUT_G = 0x27,
	OUT_J = 0x03,
	OUT_L = 0xE0,
	PULSE_BIT = 1 << 6,       // port H
	SET_E = 1 << 3 | 1 << 4 | 1 << 5,
	SET_H = 1 << 3 | 1 << 4,
	TOP = 15999,              // 16 MHz / 1 kHz less one
};

// Inputs that are inverted.
#define INVERTS(name, port, bit, pin, inverted) | ((inverted) == INVERTED ? name : 0)
static const uint32_t inverts = 0 INPUT_PINS(INVERTS);

// What the ports were given last.
static volatile uint8_t port_b, port_g, port_j, port_l;

void pins_start(void) {
	// Levels first, so that no output is ever driven high by the way.
	PORTA = PORTC = PORTK = PORTF = 0; // contacts and transmitters have their own resistors
	PORTB = (uint8_t)~OUT_B;           // unused pins: pull-up
	PORTD = 0x78;                      // 3 to 6 unused
	PORTE = 0xC4;                      // 2, 6, 7 unused
	PORTG = (uint8_t)(0x3F & ~OUT_G);
	PORTH = 0xA7;                      // 0, 1, 2, 5, 7 unused
	PORTJ = (uint8_t)~OUT_J;
	PORTL = 0;
	DDRA = DDRC = DDRK = DDRF = 0;
	DDRD = 0;
	DDRB = OUT_B;
	DDRE = SET_E | 1 << 1;             // and the line's TX
	DDRG = OUT_G;
	DDRH = SET_H | PULSE_BIT;
	DDRJ = OUT_J;
	DDRL = OUT_L;
	port_b = port_g = port_j = port_l = 0;
	DIDR0 = 0xFF; // converter pins: no digital input
	DIDR2 = 0x01;
	// Set-points: fast PWM, top in ICR, non-inverting only while above 0.
	ICR3 = ICR4 = TOP;
	OCR3A = OCR3B = OCR3C = OCR4A = OCR4B = 0;
	TCCR3A = TCCR4A = 1 << WGM31;
	TCCR3B = TCCR4B = 1 << WGM33 | 1 << WGM32 | 1 << CS30;
}

bool pins_read_off(void) {
	return ((PINB & OUT_B) | (PING & OUT_G) | (PINJ & OUT_J) | (PINL & OUT_L) | (PINE & SET_E) | (PINH & SET_H)) == 0;
}

uint32_t pins_inputs(void) {
	uint8_t a = PINA;
	uint8_t c = PINC;
	uint8_t d = PIND;
	uint8_t k = (uint8_t)((PINK & 0xFE) | (d >> 7 & 1));
	uint8_t l = (uint8_t)((PINL & 0x1F) | (d & 1 << 2) << 3);
	uint32_t bits = a | (uint16_t)((uint16_t)c << 8) | (uint32_t)((uint16_t)(k | (uint16_t)((uint16_t)l << 8))) << 16;
	return bits ^ inverts;
}

// The level of each output pin on a port for these bits.
#define LEVEL(name, port, bit, pin, inverted) \
	if (((bits & (name)) != 0) != ((inverted) == INVERTED)) { \
		level_##port |= (uint8_t)(1 << (bit)); \
	}

void pins_drive(uint16_t bits) {
	uint8_t level_B = 0, level_G = 0, level_J = 0, level_L = 0;
	OUTPUT_PINS(LEVEL)
	PORTL = level_L; // its inputs have no pull-up
	PORTB = (uint8_t)(level_B | (uint8_t)~OUT_B);
	PORTG = (uint8_t)(level_G | (0x3F & ~OUT_G));
	PORTJ = (uint8_t)(level_J | (uint8_t)~OUT_J);
	port_b = level_B;
	port_g = level_G;
	port_j = level_J;
	port_l = level_L;
}

bool pins_follow(void) {
	return (PINB & OUT_B) == port_b && (PING & OUT_G) == port_g && (PINJ & OUT_J) == port_j && (PINL & OUT_L) == port_l;
}

void pins_all_off(void) {
	PORTL = 0;
	PORTB = (uint8_t)~OUT_B;
	PORTG = (uint8_t)(0x3F & ~OUT_G);
	PORTJ = (uint8_t)~OUT_J;
	TCCR3A = TCCR4A = 1 << WGM31; // set-point pins go to their port's level, which is low
}

// A set-point of 0 is no pulse at all: fast PWM would leave a spike.
static void set(volatile uint16_t *compare, volatile uint8_t *control, uint8_t connect, uint16_t steps) {
	if (steps == 0) {
		*control &= (uint8_t)~connect;
		return;
	}
	*compare = (uint16_t)(steps - 1u);
	*control |= connect;
}

// Speed and force of the press at once, the others one a millisecond in turn;
// what is 0 goes to 0 at once.
void pins_set(const fitting *f, const warden_output *out, uint16_t speed_cmms) {
	static uint8_t turn;
	turn = (uint8_t)(turn < 2 ? turn + 1 : 0);
	if (turn == 0 || out->fuel_ml == 0) {
		set(&OCR3A, &TCCR3A, 1 << COM3A1, fitting_steps(f->setpoints[0], out->fuel_ml));
	}
	if (turn == 1 || out->oxygen_ml == 0) {
		set(&OCR3B, &TCCR3A, 1 << COM3B1, fitting_steps(f->setpoints[1], out->oxygen_ml));
	}
	if (turn == 2 || out->spindle_drpm == 0) {
		set(&OCR3C, &TCCR3A, 1 << COM3C1, fitting_steps(f->setpoints[2], out->spindle_drpm));
	}
	set(&OCR4A, &TCCR4A, 1 << COM4A1, fitting_steps(f->setpoints[3], speed_cmms));
	set(&OCR4B, &TCCR4A, 1 << COM4B1, fitting_steps(f->setpoints[4], out->force_dn));
}

void pins_pulse(void) { PINH = PULSE_BIT; } // writing a one turns the pin over
