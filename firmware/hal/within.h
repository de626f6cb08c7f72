// A number held within what 16 bits can say.
#ifndef WITHIN_H
#define WITHIN_H

#include <stdint.h>

static inline int16_t within16(int32_t v) {
	if (v > INT16_MAX) {
		return INT16_MAX;
	}
	return v < INT16_MIN ? INT16_MIN : (int16_t)v;
}

#endif
