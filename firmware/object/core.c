//go:build object

// All of the warden as one compiled object, and where its fields lie.
#include "../core/burner.c"
#include "../core/causes.c"
#include "../core/detect.c"
#include "../core/drive.c"
#include "../core/filter.c"
#include "../core/flow.c"
#include "../core/hands.c"
#include "../core/last.c"
#include "../core/latch.c"
#include "../core/link.c"
#include "../core/press.c"
#include "../core/runaway.c"
#include "../core/sensing.c"
#include "../core/spindle.c"
#include "../core/step.c"

#include "object.h"

#define CONFIG_RECORD_TYPE warden_config
#define STATE_RECORD_TYPE warden_state
#define INPUT_RECORD_TYPE warden_input
#define OUTPUT_RECORD_TYPE warden_output
#define REQUEST_RECORD_TYPE warden_request
#include "../core/wire.h"
#define SNAPSHOT_RECORD_TYPE wire_snapshot
#define HELLO_RECORD_TYPE wire_hello

enum { CONFIG_RECORD, STATE_RECORD, INPUT_RECORD, OUTPUT_RECORD, REQUEST_RECORD, SNAPSHOT_RECORD, HELLO_RECORD };

static const object_field object_fields[] = {
#define FIELD(record, type, member) {record, #member, offsetof(record##_TYPE, member), sizeof(type)},
#include "../test/fields.h"
};

const object_field *const object_all = object_fields;

const size_t object_field_count = sizeof object_fields / sizeof object_fields[0];

const size_t object_sizes[4] = {sizeof(warden_config), sizeof(warden_state), sizeof(warden_input), sizeof(warden_output)};
