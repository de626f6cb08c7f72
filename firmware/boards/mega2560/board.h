// The board: an ATmega2560 at 16 MHz. What its files share; main.c is where to
// start reading.
//
// It is NOT a safety device. Outputs are low in reset and pulled down, the
// hardware contacts in series with them act without this program.
//
// Who may interrupt whom: the millisecond runs in timer 1's interrupt with
// interrupts on again, so that serial line, converter and encoder interrupt it;
// none of those is interrupted. The main loop is the background. A variable that
// two of them touch is read or written with interrupts off, or is one byte.
#ifndef BOARD_H
#define BOARD_H

#include "../../core/wire.h"
#include "../../hal/fitting.h"
#include "../../hal/store.h"
#include "../../hal/stroke.h"

// pins.c: digital inputs and outputs, set-points.
void pins_start(void);           // outputs low, all else input
bool pins_read_off(void);        // every output reads back as off
uint32_t pins_inputs(void);      // IN_... bits, inversion undone
void pins_drive(uint16_t bits);  // OUT_... bits
bool pins_follow(void);          // what was driven reads back
void pins_all_off(void);         // from any interrupt, at once
void pins_set(const fitting *f, const warden_output *out, uint16_t speed_cmms);
void pins_pulse(void);           // for the watchdog outside; the main loop's alone

// travel.c: press travel.
void travel_start(void);
encoder travel_now(void);

// converter.c: analog inputs.
void converter_start(void);
void converter_begin(void);      // this millisecond's conversions
bool converter_works(void);      // none is stuck, its own references are right
bool converter_new(uint8_t ai);  // a count has come since the last call
uint16_t converter_counts(uint8_t ai);

// line.c: the serial line, bounded rings both ways.
void line_start(void);
bool line_take(uint8_t *byte);
bool line_idle(void);            // nothing waits to be sent
bool line_send(const wire_line *line); // whole or not at all

// cells.c: EEPROM.
extern const store_cells eeprom_cells;

// start.c: what is proven before the outputs may be driven.
enum {
	START_GOOD         = 0,
	START_NOT_FITTED   = 1, // no block, or a broken one
	START_BROKEN_FLASH = 2,
	START_LIMITS       = 3, // the configuration is outside the limits
	START_OUTPUT_STUCK = 4,
	START_NO_WATCHDOG  = 5,
};
uint8_t start_cause(void);            // MCUSR of this boot, proving resets left out
bool start_watchdog_bites(void);      // at power-on it resets once to show it
bool start_flash_whole(const fitting *f);
uint8_t block_byte(uint16_t at);
uint16_t start_free_stack(void);      // least bytes that the stack has left so far

// Why the program ended itself last time, kept over a reset; 0 for nothing.
extern uint16_t ended_because;
enum { ENDED_OVERRUN = 1, ENDED_OUTPUT = 2, ENDED_RUNAWAY = 3 };

// Everything off, now; then wait for the watchdog.
void end_safely(uint16_t because) __attribute__((noreturn));

#endif
