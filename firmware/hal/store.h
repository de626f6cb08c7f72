// What the microcontroller keeps without power: the warden's byte and how often
// it has started, as records that rotate over all of a memory whose cells wear
// out. Logic only; the board gives the cells.
//
// A record has 8 bytes: sequence number, byte, boot counter, check. 512 records
// fit 4 KiB: 100,000 writes a cell (ATmega2560 data sheet) are 51 million
// records. A cycle writes two to four and a start one, so the memory outlives
// the rig.
//
// A record that was half written when power went is told from an empty one, and
// the byte is then unreadable, which locks the warden out.
#ifndef STORE_H
#define STORE_H

#include <stdbool.h>
#include <stdint.h>

enum {
	STORE_RECORD = 8,
	STORE_SLOTS  = 512,
	STORE_CELLS  = STORE_SLOTS * STORE_RECORD,

	STORE_UNREADABLE = 0, // is no value of the warden's byte
};

// The cells: read at any time, write begun only when no write is under way.
typedef struct {
	uint8_t (*read)(uint16_t at);
	bool (*busy)(void);
	void (*write)(uint16_t at, uint8_t byte);
} store_cells;

typedef struct {
	uint16_t slot;     // of the newest whole record
	uint16_t seq;      // its number
	uint8_t nv;        // the byte as read back, STORE_UNREADABLE without one
	uint32_t boots;    // as read back
	uint8_t bytes[STORE_RECORD]; // record under way
	uint8_t next;      // its next byte, STORE_RECORD: none under way
	uint8_t want;      // byte of the record under way
	uint8_t failures;  // records that did not read back, saturating
	uint16_t failed_at; // cell of the newest one
} store;

// Finds the newest record. The first start of a new board gives nv_new.
void store_open(store *s, const store_cells *c, uint8_t nv_new);

// One step: at most one cell is written or one record read back. want is the
// byte to be kept. Never waits.
void store_step(store *s, const store_cells *c, uint8_t want);

// Asks for a record with the boot counter one higher, never 0.
void store_count_boot(store *s);

// Nothing is under way and the byte is kept.
bool store_holds(const store *s, uint8_t want);

#endif
