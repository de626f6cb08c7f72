// For the test programs: the core's records field by field, packed
// little-endian without padding, from stdin and to stdout. The list of fields
// is fields.h, made from the Go structs. Only for little-endian machines.
#ifndef RECORDS_H
#define RECORDS_H

#include <stddef.h>
#include <stdint.h>

#include "../core/warden.h"
#include "../core/wire.h"

typedef enum {
	CONFIG_RECORD,
	STATE_RECORD,
	INPUT_RECORD,
	OUTPUT_RECORD,
	REQUEST_RECORD,
	SNAPSHOT_RECORD,
	HELLO_RECORD,
} record;

// One number of a record.
typedef struct {
	record of;
	const char *name; // hands[1].given
	size_t offset;
	size_t size;
} field;

extern const field fields[];
extern const size_t field_count;

// Ends the program with a message and exit code 2.
void die(const char *what);

void take_bytes(uint8_t *bytes, size_t size);
void give_bytes(const uint8_t *bytes, size_t size);

// Numbers of size bytes.
uint32_t take_number(size_t size);
void give_number(uint32_t v, size_t size);

void take_record(record of, void *to);
void give_record(record of, const void *from);

#endif
