//go:build object

// The portable layer as one compiled object, with cells of memory that a test
// can cut off.
#include "../hal/fitting.c"
#include "../hal/limits.c"
#include "../hal/speaker.c"
#include "../hal/store.c"
#include "../hal/stroke.c"

#include "hal.h"

uint8_t hal_cells[STORE_CELLS];
uint32_t hal_writes[STORE_CELLS];
int32_t hal_left = INT32_MAX;
uint8_t hal_torn;
uint8_t hal_busy_for;
static uint8_t busy_left;

static uint8_t read_cell(uint16_t at) { return hal_cells[at]; }

static bool cells_busy(void) {
	if (busy_left > 0) {
		busy_left--;
		return true;
	}
	return false;
}

static void write_cell(uint16_t at, uint8_t byte) {
	busy_left = hal_busy_for;
	if (hal_left > 0) {
		hal_cells[at] = byte;
		hal_writes[at]++;
	} else if (hal_left == 0) {
		hal_cells[at] = hal_torn;
	}
	hal_left--;
}

static const store_cells cells = {read_cell, cells_busy, write_cell};

void hal_store_open(store *s, uint8_t nv_new) {
	busy_left = 0;
	store_open(s, &cells, nv_new);
}

void hal_store_step(store *s, uint8_t want) { store_step(s, &cells, want); }

static const uint8_t *block;

static uint8_t block_at(uint16_t at) { return block[at]; }

bool hal_fitting_read(fitting *f, const uint8_t *bytes) {
	block = bytes;
	return fitting_read(f, block_at);
}
