// Which pin of an Arduino Mega 2560 class board carries what. The list is read
// by the compiler, by the tests that wire the emulated board, and by the test
// that holds docs/wiring.md to it: this is the only place to change a pin.
//
// A digital input is a contact to +5 V with a pull-down, so that a broken wire
// reads 0; where 0 would be the harmless state the contact opens on danger and
// the input is INVERTED here. Bits 0 to 7, 8 to 15, 17 to 23 and 24 to 28 of
// warden_input.bits are whole ports on purpose: one read each; 16 and 29 are read
// with port D.
//
// An output pin is high to energise and has a pull-down; the brake is released
// by a high pin and holds without one, so it is INVERTED. The two fuel valves
// hang on two ports.
//
// Unused pins are inputs with pull-up. Pins 0 and 1 are the serial line, 50 to
// 52 the in-system programmer's, 9 the pulse for the watchdog outside the
// microcontroller: one level change for every millisecond that ended well, given by
// the main loop.
#ifndef PINS_H
#define PINS_H

enum { DIRECT = 0, INVERTED = 1 };

// PIN(bit of warden_input.bits, port, bit of the port, pin of the board, INVERTED)
#define INPUT_PINS(PIN) \
	PIN(IN_ESTOP_OK,        A, 0, 22,  DIRECT)   \
	PIN(IN_DOOR_CLOSED,     A, 1, 23,  DIRECT)   \
	PIN(IN_FLAME,           A, 2, 24,  DIRECT)   \
	PIN(IN_EXTRACTION,      A, 3, 25,  DIRECT)   \
	PIN(IN_FUEL_LOW,        A, 4, 26,  INVERTED) \
	PIN(IN_FUEL_HIGH,       A, 5, 27,  INVERTED) \
	PIN(IN_OXYGEN_LOW,      A, 6, 28,  INVERTED) \
	PIN(IN_OXYGEN_HIGH,     A, 7, 29,  INVERTED) \
	PIN(IN_PRESS_OPEN,      C, 0, 37,  DIRECT)   \
	PIN(IN_PRESS_END,       C, 1, 36,  INVERTED) \
	PIN(IN_BURNER_AT_BLANK, C, 2, 35,  DIRECT)   \
	PIN(IN_BURNER_CLEAR,    C, 3, 34,  DIRECT)   \
	PIN(IN_FUEL_SHUT,       C, 4, 33,  DIRECT)   \
	PIN(IN_OXYGEN_SHUT,     C, 5, 32,  DIRECT)   \
	PIN(IN_START,           C, 6, 31,  DIRECT)   \
	PIN(IN_RESET,           C, 7, 30,  DIRECT)   \
	PIN(IN_SOFT,            D, 7, 38,  DIRECT)   \
	PIN(IN_HOLD_OPEN,       K, 1, A9,  DIRECT)   \
	PIN(IN_HOLD_CLOSE,      K, 2, A10, DIRECT)   \
	PIN(IN_CHUCK_CLAMPED,   K, 3, A11, DIRECT)   \
	PIN(IN_INDEXED,         K, 4, A12, DIRECT)   \
	PIN(IN_GAS_ALARM,       K, 5, A13, INVERTED) \
	PIN(IN_FLASHBACK,       K, 6, A14, INVERTED) \
	PIN(IN_OVER_FORCE,      K, 7, A15, INVERTED) \
	PIN(IN_MAINS_OK,        L, 0, 49,  DIRECT)   \
	PIN(IN_TWO_HAND_LEFT,   L, 1, 48,  DIRECT)   \
	PIN(IN_TWO_HAND_RIGHT,  L, 2, 47,  DIRECT)   \
	PIN(IN_SET_UP,          L, 3, 46,  DIRECT)   \
	PIN(IN_HOLD_TURN,       L, 4, 45,  DIRECT)   \
	PIN(IN_WATCHDOG_OK,     D, 2, 19,  DIRECT)

// PIN(bit of warden_output.bits, port, bit of the port, pin of the board, INVERTED)
#define OUTPUT_PINS(PIN) \
	PIN(OUT_FUEL1,       L, 5, 44, DIRECT)   \
	PIN(OUT_FUEL2,       B, 4, 10, DIRECT)   \
	PIN(OUT_OXYGEN,      L, 6, 43, DIRECT)   \
	PIN(OUT_IGNITER,     L, 7, 42, DIRECT)   \
	PIN(OUT_FAN,         B, 7, 13, DIRECT)   \
	PIN(OUT_BURNER_IN,   B, 5, 11, DIRECT)   \
	PIN(OUT_SPINDLE,     B, 6, 12, DIRECT)   \
	PIN(OUT_PRESS_CLOSE, G, 0, 41, DIRECT)   \
	PIN(OUT_PRESS_OPEN,  G, 1, 40, DIRECT)   \
	PIN(OUT_BRAKE,       G, 2, 39, INVERTED) \
	PIN(OUT_ARMED_LAMP,  J, 0, 15, DIRECT)   \
	PIN(OUT_HORN,        J, 1, 14, DIRECT)   \
	PIN(OUT_LOCK_LAMP,   G, 5, 4,  DIRECT)

// The pulse for the watchdog outside the microcontroller.
#define PULSE_PIN(PIN) PIN(PULSE, H, 6, 9, DIRECT)

// PIN(analog input, converter channel, pin of the board). A 4-20 mA transmitter
// into 220 ohm each. Travel is not here: it has the encoder.
#define ANALOG_PINS(PIN) \
	PIN(AI_GLASS,           0, A0) \
	PIN(AI_MOULD_LOWER,     1, A1) \
	PIN(AI_MOULD_UPPER,     2, A2) \
	PIN(AI_FORCE,           3, A3) \
	PIN(AI_FUEL_FLOW,       4, A4) \
	PIN(AI_OXYGEN_FLOW,     5, A5) \
	PIN(AI_FUEL_PRESSURE,   6, A6) \
	PIN(AI_OXYGEN_PRESSURE, 7, A7) \
	PIN(AI_SPINDLE,         8, A8)

// PIN(track of the press encoder, port, bit of the port, pin of the board).
// A leads B while the press closes; four counts a period. Travel is counted from
// the open end switch (hal/stroke.h).
#define ENCODER_PINS(PIN) \
	PIN(ENCODER_A, D, 0, 21) \
	PIN(ENCODER_B, D, 1, 20)

// PIN(set-point, compare register, port, bit of the port, pin of the board).
// Pulse width, 16,000 steps, 1 kHz; no pulse is 0.
#define SETPOINT_PINS(PIN) \
	PIN(SET_FUEL,    OCR3A, E, 3, 5) \
	PIN(SET_OXYGEN,  OCR3B, E, 4, 2) \
	PIN(SET_SPINDLE, OCR3C, E, 5, 3) \
	PIN(SET_SPEED,   OCR4A, H, 3, 6) \
	PIN(SET_FORCE,   OCR4B, H, 4, 7)

#endif
