// Checks the C warden against vectors in text on stdin, one line each:
//
//	# remark            also behind a line
//	case NAME           inputs and outputs 0; configuration and state stay
//	config.FIELD N      so for state. and input.
//	power-up NV         warden_init
//	step N              N times warden_step; fresh, new_session and bad_frames
//	                    of the input count in the first one only
//	expect.FIELD N      the state's field has this value
//
// A line that it does not understand ends it with exit code 2, a value that
// differs with 1.
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "records.h"

static warden_config config;
static warden_state state;
static warden_input input;
static unsigned long line_number, case_count, step_count, expect_count, wrong_count;
static char case_name[200];

static void refuse(const char *why, const char *what) {
	fprintf(stderr, "line %lu: %s: %s\n", line_number, why, what);
	exit(2);
}

// The value as 64 bits, negative ones as two's complement.
static uint64_t number(const char *text) {
	char *end;
	errno = 0;
	uint64_t v = text[0] == '-' ? (uint64_t)strtoll(text, &end, 0) : strtoull(text, &end, 0);
	if (text[0] == 0 || *end != 0 || errno != 0) {
		refuse("not a number", text);
	}
	return v;
}

static const field *find(record of, const char *name) {
	for (size_t i = 0; i < field_count; i++) {
		if (fields[i].of == of && strcmp(fields[i].name, name) == 0) {
			return &fields[i];
		}
	}
	refuse("no such field", name);
	return NULL;
}

static void set(record of, void *to, const char *name, const char *text) {
	const field *f = find(of, name);
	uint64_t v = number(text);
	unsigned bits = (unsigned)(8 * f->size);
	bool fits = bits == 64 || v >> bits == 0;
	if (text[0] == '-') {
		fits = v >> (bits - 1) == UINT64_MAX >> (bits - 1);
	}
	if (!fits) {
		refuse("value does not fit", text);
	}
	memcpy((uint8_t *)to + f->offset, &v, f->size);
}

static void expect(const char *name, const char *text) {
	const field *f = find(STATE_RECORD, name);
	uint64_t want = number(text);
	expect_count++;
	if (memcmp((const uint8_t *)&state + f->offset, &want, f->size) != 0) {
		uint64_t have = 0;
		memcpy(&have, (const uint8_t *)&state + f->offset, f->size);
		printf("line %lu, case %s: %s is 0x%llx; %s is expected\n", line_number, case_name, name,
			(unsigned long long)have, text);
		wrong_count++;
	}
}

static void step(uint64_t times) {
	for (; times > 0; times--) {
		warden_output out;
		warden_step(&config, &state, &input, &out);
		input.fresh = 0;
		input.new_session = 0;
		input.bad_frames = 0;
		step_count++;
	}
}

static void new_case(const char *name) {
	memset(&input, 0, sizeof input);
	snprintf(case_name, sizeof case_name, "%s", name);
	case_count++;
}

static void obey(const char *key, const char *value) {
	if (strcmp(key, "case") == 0) {
		new_case(value);
	} else if (strcmp(key, "power-up") == 0) {
		uint64_t nv = number(value);
		if (nv > UINT8_MAX) {
			refuse("value does not fit", value);
		}
		warden_init(&state, (uint8_t)nv);
	} else if (strcmp(key, "step") == 0) {
		step(number(value));
	} else if (strncmp(key, "config.", 7) == 0) {
		set(CONFIG_RECORD, &config, key + 7, value);
	} else if (strncmp(key, "state.", 6) == 0) {
		set(STATE_RECORD, &state, key + 6, value);
	} else if (strncmp(key, "input.", 6) == 0) {
		set(INPUT_RECORD, &input, key + 6, value);
	} else if (strncmp(key, "expect.", 7) == 0) {
		expect(key + 7, value);
	} else {
		refuse("unknown key", key);
	}
}

int main(void) {
	char line[300];
	while (fgets(line, sizeof line, stdin) != NULL) {
		line_number++;
		if (strchr(line, '\n') == NULL) {
			refuse("line too long, or no end of line", line);
		}
		line[strcspn(line, "#\n")] = 0;
		size_t n = strlen(line);
		while (n > 0 && line[n - 1] == ' ') {
			line[--n] = 0;
		}
		if (n == 0) {
			continue;
		}
		char *value = strchr(line, ' ');
		if (value == NULL) {
			refuse("no value", line);
		}
		*value = 0;
		obey(line, value + 1);
	}
	if (expect_count == 0) {
		refuse("nothing is expected", "empty vectors");
	}
	printf("%lu cases, %lu steps, %lu values expected, %lu differ\n", case_count, step_count,
		expect_count, wrong_count);
	return wrong_count == 0 ? 0 : 1;
}
