// The block in flash that makes the image fit one rig (block.h of the board),
// read and checked.
#ifndef FITTING_H
#define FITTING_H

#include "../core/warden.h"

// One analog input: value = low + ((counts - zero) * gain >> 16); the block has
// gains of 1/4096, and fitting_read makes them finer.
typedef struct {
	uint16_t least; // counts below are a broken wire or out of range
	uint16_t most;
	uint16_t zero;
	int16_t low;
	int32_t gain;
} fitting_analog;

enum { NUM_SETPOINTS = 5 };

typedef struct {
	uint16_t device;
	uint32_t length;  // of the program, bytes
	uint32_t program; // its CRC-32C
	warden_config config;
	fitting_analog analog[NUM_ANALOG];
	uint32_t setpoints[NUM_SETPOINTS];
} fitting;

// Reads the block through read, which gives the byte at an offset. False, and a
// fitting of zeros, when it is none, has another layout or a wrong checksum.
bool fitting_read(fitting *f, uint8_t (*read)(uint16_t at));

// The value of an input at counts of the converter, at most 1,023; of travel at
// any counts of the encoder. Both within 16 bits.
int16_t fitting_value(const fitting_analog *a, uint16_t counts);
int16_t fitting_travel(const fitting_analog *a, int16_t counts);

// Steps of pulse width for a set-point, 0 to 16,000.
uint16_t fitting_steps(uint32_t gain, uint16_t value);

#endif
