// The emulated board: an ATmega2560 in libsimavr with everything around it that
// the rig's wires would carry. A tool of the tests only, and a process of its
// own, never part of pressrig: libsimavr is under the GPL-3, and so is every
// file of this folder.
//
// main.c has the frames on stdin and stdout, board.c the processor and its
// time, wires.c the pins, memory.c the EEPROM and what is read from RAM.
#ifndef BOARD_H
#define BOARD_H

#include <simavr/sim_avr.h>
#include <stdbool.h>
#include <stdint.h>

enum {
	CYCLES_PER_MS = 16000,
	NUM_CHANNELS  = 10,   // analog inputs of the warden
	NUM_SETPOINTS = 5,
	EEPROM_BYTES  = 4096,
	MAX_CAPTURES  = 4,    // ends of millisecond() kept in one step
	MAX_REGIONS   = 8,    // of RAM, copied at each
	CAPTURE_BYTES = 1024, // at most, all regions together
	RX_QUEUE      = 8192, // bytes on their way to the board
	TX_MOST       = 256,  // bytes in one step; the line carries 25
	FRAMING_ERROR = 0x8000, // in a byte on its way: a break, no stop bit
};

// What one step is given.
typedef struct {
	uint32_t in_bits;             // IN_..., as the contacts stand
	uint16_t millivolts[NUM_CHANNELS];
	int32_t travel;               // counts of the encoder
	bool held;                    // the reset pin is low
	bool watchdog_dead;
	bool eeprom_dead;
	uint8_t dead_tracks;          // bit 0 A, bit 1 B: the wire keeps its level
} step_input;

// What one step gives back.
typedef struct {
	uint16_t level;               // OUT_..., at its end
	uint16_t high;                // OUT_... energised at any moment of it
	uint16_t steps[NUM_SETPOINTS];
	uint16_t pulses;              // edges for the watchdog outside
	uint32_t longest;             // cycles of the longest millisecond()
	uint16_t stack;               // lowest stack pointer
	uint8_t resets;               // by the watchdog
	uint8_t state;                // 0 runs, 1 without power, 2 crashed
	uint16_t overruns;            // bytes lost because nobody fetched them
	uint16_t early_writes;        // EEPROM writes begun before the last was done
	uint8_t captures;
} step_output;

extern avr_t *avr;
extern uint8_t captured[MAX_CAPTURES * CAPTURE_BYTES];
extern uint16_t capture_bytes; // of one capture

// board.c
bool board_make(const char *memory);
void board_load(uint32_t address, const uint8_t *code, uint32_t bytes);
void board_watch(uint32_t tick, const uint8_t *regions, uint32_t bytes);
void board_power(uint8_t cause, uint8_t torn, uint32_t seed);
void board_cut(uint8_t torn);
void board_clock(uint16_t percent);
void board_hang(bool interrupts, bool in_tick);
bool board_send(uint16_t byte);
uint16_t board_sent(uint8_t *to);
void board_step(const step_input *in, step_output *out);

// wires.c
void wires_make(void);
void wires_forget(void); // after a reset: registers are cleared
void wires_in(const step_input *in);
void wires_begin(void);
void wires_out(step_output *out);
void encoder_to(int32_t counts, uint8_t dead_tracks);

// memory.c
bool memory_make(const char *path);
void memory_load(const uint8_t *bytes);
const uint8_t *memory_cells(void);
void memory_cut(uint8_t torn);
void memory_power(uint32_t seed);
void memory_dead(bool dead);
uint16_t memory_early_writes(void);
void memory_capture(uint8_t *to);
void memory_regions(const uint8_t *regions, uint32_t bytes);

// The emulator's own record of a peripheral, by its kind and name.
void *peripheral(const char *kind);

#endif
