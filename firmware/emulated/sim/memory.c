// EEPROM with the time that a write takes, and what is read from RAM. GPL-3,
// see board.h.
#include "board.h"

#include <simavr/avr_eeprom.h>
#include <fcntl.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

// Data addresses and bits, ATmega2560 data sheet, register summary; a byte's
// write takes 3.3 ms there.
enum { EECR = 0x3F, EEARL = 0x41, EEARH = 0x42, EEPE = 1 << 1, EEMPE = 1 << 2 };
enum { WRITE_CYCLES = CYCLES_PER_MS * 33 / 10 };

static avr_eeprom_t *eeprom;
static uint8_t kept[EEPROM_BYTES]; // as it was before the newest write
static avr_cycle_count_t written;  // when that began, 0: never
static uint16_t writing;           // its cell
static bool dead;
static uint16_t early;

static uint16_t region_at[MAX_REGIONS], region_bytes[MAX_REGIONS];
static int regions;

static bool busy(void) { return written != 0 && avr->cycle - written < WRITE_CYCLES; }

static uint8_t on_read(avr_t *mcu, avr_io_addr_t address, void *unused) {
	(void)unused;
	return (uint8_t)((mcu->data[address] & ~EEPE) | (busy() ? EEPE : 0));
}

// Called after the emulator's own write, which is done at once. A write begun
// while another is under way does not happen.
static void on_write(avr_t *mcu, avr_io_addr_t address, uint8_t v, void *unused) {
	(void)address, (void)unused;
	if ((v & (EEPE | EEMPE)) != (EEPE | EEMPE)) {
		return;
	}
	if (dead || busy()) {
		early += busy();
		memcpy(eeprom->eeprom, kept, EEPROM_BYTES);
		return;
	}
	memcpy(kept, eeprom->eeprom, EEPROM_BYTES);
	written = mcu->cycle;
	writing = (uint16_t)((mcu->data[EEARL] | mcu->data[EEARH] << 8) & (EEPROM_BYTES - 1));
}

// The cells are those of a file, where one is given, so that they outlive a
// kill of this process; one that does not exist is a chip never written.
static bool map_file(const char *path) {
	int fd = open(path, O_RDWR | O_CREAT, 0600);
	off_t size = fd < 0 ? -1 : lseek(fd, 0, SEEK_END);
	if (size != EEPROM_BYTES && size != 0) {
		return false;
	}
	if (size == 0 && write(fd, eeprom->eeprom, EEPROM_BYTES) != EEPROM_BYTES) {
		return false;
	}
	void *cells = mmap(NULL, EEPROM_BYTES, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	if (cells == MAP_FAILED) {
		return false;
	}
	eeprom->eeprom = cells;
	return true;
}

bool memory_make(const char *path) {
	eeprom = peripheral("eeprom");
	if (path != NULL && !map_file(path)) {
		return false;
	}
	memcpy(kept, eeprom->eeprom, EEPROM_BYTES);
	avr_register_io_write(avr, EECR, on_write, NULL);
	avr_register_io_read(avr, EECR, on_read, NULL);
	return true;
}

void memory_dead(bool now) { dead = now; }

uint16_t memory_early_writes(void) {
	uint16_t n = early;
	early = 0;
	return n;
}

void memory_load(const uint8_t *bytes) {
	memmove(eeprom->eeprom, bytes, EEPROM_BYTES);
	memcpy(kept, bytes, EEPROM_BYTES);
}

const uint8_t *memory_cells(void) { return eeprom->eeprom; }

// Power goes: the cell whose write is cut short holds its byte changed by torn.
void memory_cut(uint8_t torn) {
	if (busy()) {
		eeprom->eeprom[writing] ^= torn;
	}
	memory_load(eeprom->eeprom);
	written = 0;
}

// Power comes: RAM holds anything.
void memory_power(uint32_t seed) {
	for (uint32_t at = (uint32_t)avr->ioend + 1; at <= avr->ramend; at++) {
		seed = seed * 1664525u + 1013904223u; // Numerical Recipes, from memory
		avr->data[at] = (uint8_t)(seed >> 24);
	}
}

void memory_regions(const uint8_t *list, uint32_t bytes) {
	regions = 0;
	capture_bytes = 0;
	for (; bytes >= 4 && regions < MAX_REGIONS; bytes -= 4, list += 4) {
		uint16_t at = (uint16_t)(list[0] | list[1] << 8), n = (uint16_t)(list[2] | list[3] << 8);
		if (capture_bytes + n > CAPTURE_BYTES || at + n > avr->ramend + 1u) {
			break;
		}
		region_at[regions] = at;
		region_bytes[regions++] = n;
		capture_bytes = (uint16_t)(capture_bytes + n);
	}
}

void memory_capture(uint8_t *to) {
	for (int i = 0; i < regions; i++) {
		memcpy(to, avr->data + region_at[i], region_bytes[i]);
		to += region_bytes[i];
	}
}
