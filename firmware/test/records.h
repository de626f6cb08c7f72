// The warden's four records field by field, for the test programs: packed
// little-endian without padding. The list is fields.h, made from the Go package
// safety/warden. Only for little-endian machines.
#ifndef RECORDS_H
#define RECORDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "../core/warden.h"

typedef enum { CONFIG_RECORD, STATE_RECORD, INPUT_RECORD, OUTPUT_RECORD } record;

typedef struct {
	record of;
	const char *name; // as in "state.hands[1].given"
	size_t offset;
	size_t size;
	bool is_signed;
} field;

// More than any record has bytes.
#define RECORD_MAX 512

extern const field fields[];
extern const size_t field_count;

size_t record_size(record of);
void pack(record of, const void *from, uint8_t *bytes);
void unpack(record of, void *to, const uint8_t *bytes);

#endif
