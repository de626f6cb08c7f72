#include "records.h"

#include <string.h>

// Refuses to compile where a field has another size than in the specification.
#define SAME_SIZE(have, want) (0 * sizeof(char[sizeof(have) == sizeof(want) ? 1 : -1]))

const field fields[] = {
#define FIELD(record, type, member)                                               \
	{record, #member, offsetof(record##_TYPE, member),                            \
		sizeof(type) + SAME_SIZE(((record##_TYPE *)0)->member, type),             \
		(type)-1 < (type)1},
#define CONFIG_RECORD_TYPE warden_config
#define STATE_RECORD_TYPE warden_state
#define INPUT_RECORD_TYPE warden_input
#define OUTPUT_RECORD_TYPE warden_output
#include "fields.h"
};

const size_t field_count = sizeof fields / sizeof fields[0];

size_t record_size(record of) {
	size_t size = 0;
	for (size_t i = 0; i < field_count; i++) {
		size += fields[i].of == of ? fields[i].size : 0;
	}
	return size;
}

void pack(record of, const void *from, uint8_t *bytes) {
	for (size_t i = 0; i < field_count; i++) {
		if (fields[i].of == of) {
			memcpy(bytes, (const uint8_t *)from + fields[i].offset, fields[i].size);
			bytes += fields[i].size;
		}
	}
}

void unpack(record of, void *to, const uint8_t *bytes) {
	for (size_t i = 0; i < field_count; i++) {
		if (fields[i].of == of) {
			memcpy((uint8_t *)to + fields[i].offset, bytes, fields[i].size);
			bytes += fields[i].size;
		}
	}
}
