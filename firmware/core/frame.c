#include "wire_inside.h"

// Messages of the microcontroller to bytes on the line.

void begin_frame(wire_line *line, const wire_header *h, uint8_t class, uint8_t payload) {
	put8(line, 0);
	put8(line, WIRE_VERSION);
	put8(line, class);
	put16(line, h->device);
	put32(line, h->mcu_session);
	put32(line, h->host_session);
	put16(line, h->seq);
	put8(line, payload);
}

// A frame is one code block, so that no second code byte can be needed.
void end_frame(wire_line *line, uint8_t start) {
	if (line->n > WIRE_LINE_BYTES - WIRE_CRC_BYTES - 1) {
		line->n = 0;
		return;
	}
	put32(line, wire_checksum('M', &line->bytes[start + 1], (uint8_t)(line->n - start - 1)));
	uint8_t next = line->n; // where the next zero is, or the delimiter will be
	for (uint8_t i = line->n; i > start; i--) {
		if (line->bytes[i - 1] == 0) {
			line->bytes[i - 1] = (uint8_t)(next - (i - 1));
			next = (uint8_t)(i - 1);
		}
	}
	put8(line, 0);
}

void wire_put_hello(wire_line *line, const wire_header *h, const wire_hello *m) {
	line->n = 0;
	put8(line, 0);
	begin_frame(line, h, WIRE_HELLO, 40);
	put32(line, m->stamp_ms);
	put32(line, m->config_hash);
	put32(line, m->fitted_in);
	put16(line, m->fitted_analog);
	put16(line, m->scale);
	for (uint8_t i = 0; i < WIRE_FIRMWARE_BYTES; i++) {
		put8(line, m->firmware[i]);
	}
	end_frame(line, 1);
}

static void put_driven(wire_line *line, const wire_snapshot *m) {
	put16(line, m->out);
	put16(line, m->fuel_ml);
	put16(line, m->oxygen_ml);
	put16(line, m->spindle_drpm);
	put16(line, m->speed_cmms);
	put16(line, m->force_dn);
	put16(line, (uint16_t)m->travel_cmm);
}

void wire_put_snapshot(wire_line *line, const wire_header *h, const wire_snapshot *m) {
	line->n = 0;
	begin_frame(line, h, WIRE_SNAPSHOT, 88);
	put32(line, m->stamp_ms);
	put32(line, m->in);
	for (uint8_t i = 0; i < NUM_ANALOG; i++) {
		put16(line, (uint16_t)m->analog[i]);
	}
	put16(line, m->analog_ok);
	put16(line, m->glass_age_ms);
	put16(line, m->flags);
	put_driven(line, m);
	put8(line, m->burner);
	put8(line, m->press);
	put8(line, m->spindle);
	put8(line, m->link);
	put8(line, m->lock);
	put8(line, m->first);
	put64(line, m->trips);
	put64(line, m->present);
	put16(line, m->arm_id);
	put16(line, m->phase_cs);
	put32(line, m->unburnt);
	for (uint8_t i = 0; i < NUM_LEASES; i++) {
		put8(line, m->lease_cs[i]);
	}
	put16(line, m->bad_frames);
	put16(line, m->gaps);
	put16(line, m->echo_seq);
	end_frame(line, 0);
}

void wire_put_event(wire_line *line, const wire_header *h, uint16_t code, uint32_t value,
	uint32_t stamp_ms) {
	line->n = 0;
	begin_frame(line, h, WIRE_EVENT, 10);
	put16(line, code);
	put32(line, value);
	put32(line, stamp_ms);
	end_frame(line, 0);
}
