// What object.go sees of the compiled core.
#ifndef OBJECT_H
#define OBJECT_H

#include "../core/warden.h"

#include <stddef.h>

typedef struct {
	int record;
	const char *name;
	size_t offset;
	size_t size;
} object_field;

extern const object_field *const object_all;
extern const size_t object_field_count;
extern const size_t object_sizes[4];

#endif
