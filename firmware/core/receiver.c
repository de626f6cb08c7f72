#include "wire_inside.h"

// Bits that exist; any other set bit is refused, so that a later meaning of a
// spare bit can never be half understood.
#define ALL_ASKS   ((uint16_t)((REQ_HANDS << 1) - 1))
#define ALL_LEASES ((uint8_t)((1u << NUM_LEASES) - 1u))

// Offsets in a frame.
enum {
	AT_VERSION = 0,
	AT_CLASS   = 1,
	AT_DEVICE  = 2,
	AT_MCU     = 4,
	AT_HOST    = 8,
	AT_SEQ     = 12,
	AT_LENGTH  = 14,
};

void wire_start(wire_receiver *r, uint16_t device, uint32_t mcu_session) {
	*r = (wire_receiver){.device = device, .own = mcu_session};
}

bool wire_silent(const wire_receiver *r, uint32_t now_ms) {
	return r->peer == 0 || now_ms - r->heard_ms >= WIRE_SILENT_MS;
}

static uint16_t get16(const uint8_t *p) {
	return (uint16_t)(p[0] | (uint16_t)((uint16_t)p[1] << 8));
}

static uint32_t get32(const uint8_t *p) {
	return get16(p) | (uint32_t)get16(p + 2) << 16;
}

static int16_t get16_signed(const uint8_t *p) { return (int16_t)get16(p); }

// Undoes the stuffing in place, which the output never overtakes. It returns
// how many bytes are left, -1 for what is no COBS: a code byte that points past
// the end. No 00 is inside and no more than WIRE_MAX_ENCODED bytes came, by
// wire_receive; so no code byte of FF can fit, and nothing can be longer than a
// frame.
static int16_t unstuff(uint8_t *bytes, uint8_t size) {
	uint8_t n = 0;
	uint8_t i = 0;
	while (i < size) {
		uint16_t end = (uint16_t)((uint16_t)i + bytes[i]);
		if (end > size) {
			return -1;
		}
		for (i++; i < end; i++) {
			bytes[n] = bytes[i];
			n++;
		}
		if (end < size) { // the last block stands for no zero
			bytes[n] = 0;
			n++;
		}
	}
	return n;
}

static bool read_request(const uint8_t *p, wire_frame *f) {
	warden_request *w = &f->want;
	f->echo_ms = get32(p);
	w->lease = p[4];
	w->press = p[5];
	w->flags = get16(p + 6);
	w->arm_id = get16(p + 8);
	w->fuel_ml = get16(p + 10);
	w->oxygen_ml = get16(p + 12);
	w->spindle_drpm = get16(p + 14);
	w->travel_cmm = get16_signed(p + 16);
	w->speed_cmms = get16(p + 18);
	w->force_dn = get16(p + 20);
	w->glass_low_dc = get16_signed(p + 22);
	w->glass_high_dc = get16_signed(p + 24);
	w->est_dc = get16_signed(p + 26);
	w->est_unc_dc = get16(p + 28);
	w->est_age_ms = get16(p + 30);
	return (w->lease & ~ALL_LEASES) == 0 && w->press <= PRESS_OPEN && (w->flags & ~ALL_ASKS) == 0;
}

// Reads the message that the class names.
static uint8_t read_payload(const uint8_t *p, uint8_t size, wire_frame *f) {
	bool good;
	switch (f->class) {
	case WIRE_HELLO_REQUEST:
		good = size == 0;
		break;
	case WIRE_REQUEST:
		good = size == 32 && read_request(p, f);
		break;
	case WIRE_PARAMETERS_REQUEST:
		good = size == 1;
		f->index = p[0]; // or a byte of the CRC, and no good
		break;
	default:
		return WIRE_WRONG_CLASS;
	}
	return good ? WIRE_ACCEPTED : WIRE_BAD_VALUE;
}

// Reads the bytes between two delimiters. Sessions, order and age are judged
// after it.
static uint8_t decode(uint8_t *bytes, uint8_t encoded, wire_frame *f) {
	int16_t n = unstuff(bytes, encoded);
	if (n < WIRE_HEADER_BYTES + WIRE_CRC_BYTES) {
		return WIRE_CORRUPT;
	}
	uint8_t body = (uint8_t)(n - WIRE_CRC_BYTES);
	uint8_t payload = (uint8_t)(body - WIRE_HEADER_BYTES);
	if (bytes[AT_LENGTH] != payload || wire_checksum('H', bytes, body) != get32(bytes + body)) {
		return WIRE_CORRUPT;
	}
	f->class = bytes[AT_CLASS];
	f->header.device = get16(bytes + AT_DEVICE);
	f->header.mcu_session = get32(bytes + AT_MCU);
	f->header.host_session = get32(bytes + AT_HOST);
	f->header.seq = get16(bytes + AT_SEQ);
	f->new_session = false;
	if (bytes[AT_VERSION] != WIRE_VERSION) {
		return WIRE_BAD_VERSION;
	}
	return read_payload(bytes + WIRE_HEADER_BYTES, payload, f);
}

// Takes the next sequence number or refuses it.
static uint8_t advance(wire_receiver *r, uint16_t seq) {
	uint16_t ahead = (uint16_t)(seq - r->seq);
	if (ahead == 0) {
		return WIRE_REPEATED;
	}
	if (ahead > WIRE_MAX_AHEAD) {
		return WIRE_OUT_OF_ORDER;
	}
	r->gaps += (uint16_t)(ahead - 1u);
	r->seq = seq;
	return WIRE_ACCEPTED;
}

// A hello request may open a pair. It cannot know our session yet, so that 0
// will do. Within a live pair it is a frame like any other and obeys the
// sequence.
static uint8_t judge_hello(wire_receiver *r, uint32_t now_ms, wire_frame *f) {
	uint32_t own = f->header.mcu_session;
	uint32_t peer = f->header.host_session;
	if (peer == 0 || (own != r->own && own != 0)) {
		return WIRE_WRONG_SESSION;
	}
	if (peer == r->peer && !wire_silent(r, now_ms)) {
		return advance(r, f->header.seq);
	}
	f->new_session = peer != r->peer;
	r->peer = peer;
	r->seq = f->header.seq;
	return WIRE_ACCEPTED;
}

static uint8_t judge(wire_receiver *r, uint32_t now_ms, wire_frame *f) {
	if (f->header.device != r->device) {
		return WIRE_WRONG_DEVICE;
	}
	if (f->class == WIRE_HELLO_REQUEST) {
		return judge_hello(r, now_ms, f);
	}
	if (r->peer == 0 || f->header.mcu_session != r->own || f->header.host_session != r->peer) {
		return WIRE_WRONG_SESSION;
	}
	uint8_t verdict = advance(r, f->header.seq);
	if (verdict == WIRE_ACCEPTED && f->class == WIRE_REQUEST &&
		now_ms - f->echo_ms > WIRE_MAX_AGE_MS) {
		return WIRE_LATE;
	}
	return verdict;
}

// Judges what stands before a delimiter.
static uint8_t take(wire_receiver *r, uint32_t now_ms, wire_frame *f) {
	uint8_t verdict = WIRE_CORRUPT;
	if (!r->overlong) {
		verdict = decode(r->bytes, r->n, f);
	}
	if (verdict == WIRE_ACCEPTED) {
		verdict = judge(r, now_ms, f);
	}
	if (verdict == WIRE_ACCEPTED) {
		r->heard_ms = now_ms;
	}
	r->counts[verdict]++;
	return verdict;
}

// Bytes before the first delimiter are the rest of a frame that began before
// we listened, and are passed over. Two delimiters in a row are idle line.
uint8_t wire_receive(wire_receiver *r, uint8_t byte, uint32_t now_ms, wire_frame *f) {
	uint8_t verdict = WIRE_NO_FRAME;
	if (byte == 0) {
		if (r->n > 0) {
			verdict = take(r, now_ms, f);
		}
		r->n = 0;
		r->overlong = false;
		r->synced = true;
	} else if (r->synced && r->n < WIRE_MAX_ENCODED) {
		r->bytes[r->n] = byte;
		r->n++;
	} else {
		r->overlong = r->synced;
	}
	return verdict;
}
