// The serial line of the microcontroller, after drivers/wire/PROTOCOL.md: bytes
// in to judged frames of the host, messages to frames of bytes out.
//
// The line is NOT a safety channel: strong checks between ordinary software
// and an ordinary microcontroller, nothing more. Whatever comes in is refused
// or taken, counted and never repaired; silence ends every lease.
//
// It never allocates, recurses, divides, waits or touches a port, and takes no
// size from the line. All buffers are here, with fixed sizes.
//
// How to use it:
//   1. wire_start with the own device id and this boot's session number.
//   2. Each received byte to wire_receive, in order. When it returns
//      WIRE_ACCEPTED, act on the frame: a request goes to the warden with
//      fresh = 1, new_session as it says; a hello request is answered with
//      wire_put_hello, a parameters request with wire_put_parameters.
//   3. Count WIRE_CORRUPT and WIRE_BAD_VALUE of a millisecond into the warden's
//      bad_frames: its leaky integer is the line's error budget.
//   4. Send what the put functions leave in a wire_line, all of it.
#ifndef WIRE_H
#define WIRE_H

#include "warden.h"

// Sizes in bytes.
enum {
	WIRE_VERSION        = 2,
	WIRE_HEADER_BYTES   = 15,
	WIRE_CRC_BYTES      = 4,
	WIRE_MAX_FRAME      = 253, // before stuffing: one code block
	WIRE_MAX_ENCODED    = 254, // between two delimiters
	WIRE_CONFIG_BYTES   = 154, // encoded configuration
	WIRE_PIECE_BYTES    = 40,  // of it in one parameters frame
	WIRE_PIECES         = 4,   // that carry it
	WIRE_FIRMWARE_BYTES = 24,  // firmware's name in hello
	WIRE_LINE_BYTES     = 154, // holds a snapshot, and the encoded configuration
};

// Rules of a receiver.
#define WIRE_MAX_AHEAD  UINT16_C(50)  // sequence numbers, half a second of requests
#define WIRE_MAX_AGE_MS UINT32_C(200) // of a request, by the stamp it echoes
#define WIRE_SILENT_MS  UINT32_C(500) // without an accepted frame a pair is stale

// Classes, from the host and from the microcontroller.
enum {
	WIRE_HELLO_REQUEST      = 1,
	WIRE_REQUEST            = 2,
	WIRE_PARAMETERS_REQUEST = 3,

	WIRE_HELLO      = 17,
	WIRE_SNAPSHOT   = 18,
	WIRE_EVENT      = 19,
	WIRE_PARAMETERS = 20,
};

// What became of a received byte or frame.
enum {
	WIRE_NO_FRAME      = 0,  // the byte ended none
	WIRE_ACCEPTED      = 1,
	WIRE_CORRUPT       = 2,  // COBS, length or CRC wrong, over-long
	WIRE_BAD_VALUE     = 3,  // CRC right, but a payload size or a value out of range
	WIRE_BAD_VERSION   = 4,  // CRC right, another protocol version
	WIRE_WRONG_CLASS   = 5,  // CRC right, a class that the host has not
	WIRE_WRONG_DEVICE  = 6,  // for another microcontroller
	WIRE_WRONG_SESSION = 7,  // not of the established pair of sessions
	WIRE_REPEATED      = 8,  // the number of the newest frame again
	WIRE_OUT_OF_ORDER  = 9,  // a number behind, or too far ahead
	WIRE_LATE          = 10, // a request older than WIRE_MAX_AGE_MS

	WIRE_NUM_VERDICT   = 11,
};

// Event codes; what the value means is in PROTOCOL.md, 5.6.
enum {
	WIRE_EVENT_BOOT    = 1,
	WIRE_EVENT_TRIP    = 2,
	WIRE_EVENT_RESET   = 3,
	WIRE_EVENT_STORAGE = 4,
	WIRE_EVENT_OVERRUN = 5,
	WIRE_EVENT_MEMORY  = 6,
};

// What every frame begins with. Version, class and length are written and
// checked by the codec.
typedef struct {
	uint16_t device;
	uint32_t mcu_session;  // this boot's number, never 0
	uint32_t host_session; // the host's, 0 none yet
	uint16_t seq;          // one counter for each sender, wraps
} wire_header;

// A frame of the host, valid when wire_receive returned WIRE_ACCEPTED.
typedef struct {
	uint8_t class;       // WIRE_HELLO_REQUEST, WIRE_REQUEST or WIRE_PARAMETERS_REQUEST
	wire_header header;
	bool new_session;    // a pair was opened for another host: leases end, START is void
	uint32_t echo_ms;    // request: the newest stamp that the host has
	warden_request want; // request
	uint8_t index;       // parameters request: the piece wanted
} wire_frame;

// One receiver. Everybody may read it; only wire_start and wire_receive write.
typedef struct {
	uint32_t counts[WIRE_NUM_VERDICT]; // frames that got each verdict, wraps
	uint32_t gaps;                     // sequence numbers missing between accepted frames
	uint16_t device;
	uint32_t own;                      // own session
	uint32_t peer;                     // established host session, 0 none
	uint16_t seq;                      // of the newest frame taken
	uint32_t heard_ms;                 // when a frame was last accepted
	uint8_t bytes[WIRE_MAX_ENCODED];   // since the last delimiter
	uint8_t n;                         // of bytes
	bool synced;                       // a delimiter was seen
	bool overlong;                     // more came than bytes holds
} wire_receiver;

// Bytes to be sent, from the first one.
typedef struct {
	uint8_t bytes[WIRE_LINE_BYTES];
	uint8_t n;
} wire_line;

// What the microcontroller says of itself.
typedef struct {
	uint32_t stamp_ms;     // clock since boot, wraps
	uint32_t config_hash;  // wire_config_hash
	uint32_t fitted_in;
	uint16_t fitted_analog;
	uint16_t scale;        // 1 on a board
	uint8_t firmware[WIRE_FIRMWARE_BYTES]; // printable ASCII, then 00
} wire_hello;

// The rig as the microcontroller knows it now, PROTOCOL.md, 5.5.
typedef struct {
	uint32_t stamp_ms;
	uint32_t in;
	int16_t analog[NUM_ANALOG];
	uint16_t analog_ok;
	uint16_t glass_age_ms;
	uint16_t flags;
	uint16_t out;
	uint16_t fuel_ml;
	uint16_t oxygen_ml;
	uint16_t spindle_drpm;
	uint16_t speed_cmms;
	uint16_t force_dn;
	int16_t travel_cmm;
	uint8_t burner;
	uint8_t press;
	uint8_t spindle;
	uint8_t link;
	uint8_t lock;
	uint8_t first;
	uint64_t trips;
	uint64_t present;
	uint16_t arm_id;
	uint16_t phase_cs;
	uint32_t unburnt;
	uint8_t lease_cs[NUM_LEASES];
	uint16_t bad_frames;
	uint16_t gaps;
	uint16_t echo_seq;
} wire_snapshot;

void wire_start(wire_receiver *r, uint16_t device, uint32_t mcu_session);

// Takes one byte. now_ms is the clock that stamps snapshots.
uint8_t wire_receive(wire_receiver *r, uint8_t byte, uint32_t now_ms, wire_frame *f);

// No pair, or nothing accepted for WIRE_SILENT_MS.
bool wire_silent(const wire_receiver *r, uint32_t now_ms);

// Each writes one whole frame with its delimiter; hello puts another one in
// front, which ends whatever was left half sent.
void wire_put_hello(wire_line *line, const wire_header *h, const wire_hello *m);
void wire_put_snapshot(wire_line *line, const wire_header *h, const wire_snapshot *m);
void wire_put_event(wire_line *line, const wire_header *h, uint16_t code, uint32_t value,
	uint32_t stamp_ms);

// False, and nothing to send: there is no such piece.
bool wire_put_parameters(wire_line *line, const wire_header *h, const warden_config *c,
	uint8_t index);

// The hash that hello says of the configuration.
uint32_t wire_config_hash(const warden_config *c);

#endif
