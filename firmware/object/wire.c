//go:build object

// The wire as one compiled object.
#include "../core/config.c"
#include "../core/crc.c"
#include "../core/frame.c"
#include "../core/receiver.c"
