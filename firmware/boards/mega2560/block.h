// The block: what makes one image fit one rig. It stands in flash beside the
// program, is put there with it by the in-system programmer, and is covered by
// a checksum of its own. No program on the microcontroller can write it and no
// message reaches it: the host may read the configuration and never widen it.
//
// All fields little-endian, without padding. The Go package firmware/image
// writes it; tests hold the two to each other.
#ifndef BLOCK_H
#define BLOCK_H

#include "../../core/wire.h"

#define BLOCK_ADDRESS 0xFE00u // in flash, bytes; the program ends below

enum {
	BLOCK_MAGIC     = 0,   // "PRG1"
	BLOCK_DEVICE    = 4,   // u16, id on the line
	BLOCK_LAYOUT    = 6,   // u16, BLOCK_LAYOUT_2
	BLOCK_LENGTH    = 8,   // u32, bytes of the program, from address 0
	BLOCK_PROGRAM   = 12,  // u32, CRC-32C of them: the build hash in hello
	BLOCK_CONFIG    = 16,  // the warden's configuration as on the wire
	BLOCK_ANALOG    = BLOCK_CONFIG + WIRE_CONFIG_BYTES, // one record for each of the 10 analog inputs
	BLOCK_SETPOINTS = BLOCK_ANALOG + 12 * NUM_ANALOG, // u32 for each of the 5 set-points
	BLOCK_CRC       = BLOCK_SETPOINTS + 4 * 5, // u32, CRC-32C of all before; hello's hash is of BLOCK_CONFIG up to here
	BLOCK_BYTES     = BLOCK_CRC + 4,

	BLOCK_LAYOUT_2  = 2,   // the layout that is told here

	// A record of an analog input: value = low + ((counts - zero) * gain >> 12),
	// broken when counts < least or counts > most. Counts are the converter's,
	// of travel the encoder's.
	ANALOG_LEAST    = 0, // u16
	ANALOG_MOST     = 2, // u16
	ANALOG_ZERO     = 4, // u16
	ANALOG_LOW      = 6, // i16, in the unit of the input
	ANALOG_GAIN     = 8, // i32, 1/4096 unit a count
	ANALOG_BYTES    = 12,

	// A set-point: steps of pulse width = value * gain >> 16, at most 16,000.
};

#endif
