#include "store.h"

// Where a record has what.
enum { SEQ = 0, NV = 2, BOOTS = 3, CHECK = 7 };

// CRC-8 of the record, polynomial 07, start FF: an erased or zeroed record is
// never whole.
static uint8_t check(const uint8_t *bytes) {
	uint8_t crc = 0xFF;
	for (uint8_t i = 0; i < CHECK; i++) {
		crc ^= bytes[i];
		for (uint8_t k = 0; k < 8; k++) {
			crc = (uint8_t)((uint8_t)(crc << 1) ^ ((crc & 0x80u) != 0 ? 0x07u : 0u));
		}
	}
	return crc;
}

static void read_record(const store_cells *c, uint16_t slot, uint8_t *bytes) {
	for (uint8_t i = 0; i < STORE_RECORD; i++) {
		bytes[i] = c->read((uint16_t)(slot * STORE_RECORD + i));
	}
}

static bool blank(const uint8_t *bytes) {
	for (uint8_t i = 0; i < STORE_RECORD; i++) {
		if (bytes[i] != 0xFF) {
			return false;
		}
	}
	return true;
}

static uint16_t seq_of(const uint8_t *b) { return (uint16_t)(b[SEQ] | (uint16_t)b[SEQ + 1] << 8); }

static uint32_t boots_of(const uint8_t *b) {
	return b[BOOTS] | (uint32_t)b[BOOTS + 1] << 8 | (uint32_t)b[BOOTS + 2] << 16 | (uint32_t)b[BOOTS + 3] << 24;
}

static void take(store *s, const uint8_t *bytes, uint16_t slot) {
	s->slot = slot;
	s->seq = seq_of(bytes);
	s->nv = bytes[NV];
	s->boots = boots_of(bytes);
}

static uint16_t after(uint16_t slot) { return slot + 1u < STORE_SLOTS ? (uint16_t)(slot + 1u) : 0; }

void store_open(store *s, const store_cells *c, uint8_t nv_new) {
	uint8_t bytes[STORE_RECORD];
	bool found = false;
	bool empty = true;
	*s = (store){.slot = STORE_SLOTS - 1u, .next = STORE_RECORD, .nv = STORE_UNREADABLE};
	for (uint16_t slot = 0; slot < STORE_SLOTS; slot++) {
		read_record(c, slot, bytes);
		empty = empty && blank(bytes);
		if (bytes[CHECK] == check(bytes) && (!found || (uint16_t)(seq_of(bytes) - s->seq) < 0x8000u)) {
			take(s, bytes, slot);
			found = true;
		}
	}
	if (!found) {
		s->nv = empty ? nv_new : STORE_UNREADABLE;
		s->want = s->nv;
		return;
	}
	read_record(c, after(s->slot), bytes); // where the next one would have been begun
	if (bytes[CHECK] != check(bytes) && !blank(bytes)) {
		s->nv = STORE_UNREADABLE;
		s->slot = after(s->slot); // and the one after it comes next
		s->seq++;
	}
	s->want = s->nv;
}

static void begin(store *s, uint8_t want, uint32_t boots) {
	uint16_t seq = (uint16_t)(s->seq + 1u);
	s->bytes[SEQ] = (uint8_t)(seq & 0xFFu);
	s->bytes[SEQ + 1] = (uint8_t)(seq >> 8);
	s->bytes[NV] = want;
	s->bytes[BOOTS] = (uint8_t)(boots & 0xFFu);
	s->bytes[BOOTS + 1] = (uint8_t)(boots >> 8 & 0xFFu);
	s->bytes[BOOTS + 2] = (uint8_t)(boots >> 16 & 0xFFu);
	s->bytes[BOOTS + 3] = (uint8_t)(boots >> 24);
	s->bytes[CHECK] = check(s->bytes);
	s->want = want;
	s->next = 0;
}

void store_count_boot(store *s) {
	begin(s, s->want, s->boots < UINT32_MAX ? s->boots + 1u : 1u);
}

// The record is written: it counts when it reads back. What does not is left
// where it is, unreadable, and the next record goes one further.
static void read_back(store *s, const store_cells *c) {
	uint8_t bytes[STORE_RECORD];
	uint16_t slot = after(s->slot);
	read_record(c, slot, bytes);
	s->next = STORE_RECORD;
	for (uint8_t i = 0; i < STORE_RECORD; i++) {
		if (bytes[i] != s->bytes[i]) {
			s->failures = (uint8_t)(s->failures < 0xFF ? s->failures + 1u : 0xFFu);
			s->failed_at = (uint16_t)(slot * STORE_RECORD + i);
			s->nv = STORE_UNREADABLE;
			s->slot = slot;
			s->seq = seq_of(s->bytes);
			s->boots = boots_of(s->bytes);
			return;
		}
	}
	take(s, bytes, slot);
}

void store_step(store *s, const store_cells *c, uint8_t want) {
	if (c->busy()) {
		return;
	}
	if (s->next < STORE_RECORD) {
		c->write((uint16_t)(after(s->slot) * STORE_RECORD + s->next), s->bytes[s->next]);
		s->next++;
		if (s->next == STORE_RECORD) {
			s->next = STORE_RECORD + 1; // written, to be read back
		}
	} else if (s->next == STORE_RECORD + 1) {
		read_back(s, c);
	} else if (want != s->nv) {
		begin(s, want, s->boots);
	}
}

bool store_holds(const store *s, uint8_t want) { return s->next == STORE_RECORD && s->nv == want; }
