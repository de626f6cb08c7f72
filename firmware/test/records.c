#include "records.h"

#include <stdio.h>
#include <stdlib.h>

// Refuses to compile where a field has another size than in the specification.
#define SAME_SIZE(have, want) (0 * sizeof(char[sizeof(have) == sizeof(want) ? 1 : -1]))

#define CONFIG_RECORD_TYPE warden_config
#define STATE_RECORD_TYPE warden_state
#define INPUT_RECORD_TYPE warden_input
#define OUTPUT_RECORD_TYPE warden_output
#define REQUEST_RECORD_TYPE warden_request
#define SNAPSHOT_RECORD_TYPE wire_snapshot
#define HELLO_RECORD_TYPE wire_hello

const field fields[] = {
#define FIELD(record, type, member)                     \
	{record, #member, offsetof(record##_TYPE, member),  \
		sizeof(type) + SAME_SIZE(((record##_TYPE *)0)->member, type)},
#include "fields.h"
};

const size_t field_count = sizeof fields / sizeof fields[0];

void die(const char *what) {
	fprintf(stderr, "the C program ends: %s\n", what);
	exit(2);
}

void take_bytes(uint8_t *bytes, size_t size) {
	if (fread(bytes, 1, size, stdin) != size) {
		die("its input ends within a command");
	}
}

void give_bytes(const uint8_t *bytes, size_t size) {
	if (fwrite(bytes, 1, size, stdout) != size) {
		die("it cannot write");
	}
}

uint32_t take_number(size_t size) {
	uint8_t bytes[4] = {0};
	take_bytes(bytes, size);
	return bytes[0] | (uint32_t)bytes[1] << 8 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[3] << 24;
}

void give_number(uint32_t v, size_t size) {
	uint8_t bytes[4] = {(uint8_t)v, (uint8_t)(v >> 8), (uint8_t)(v >> 16), (uint8_t)(v >> 24)};
	give_bytes(bytes, size);
}

void take_record(record of, void *to) {
	for (size_t i = 0; i < field_count; i++) {
		if (fields[i].of == of) {
			take_bytes((uint8_t *)to + fields[i].offset, fields[i].size);
		}
	}
}

void give_record(record of, const void *from) {
	for (size_t i = 0; i < field_count; i++) {
		if (fields[i].of == of) {
			give_bytes((const uint8_t *)from + fields[i].offset, fields[i].size);
		}
	}
}
