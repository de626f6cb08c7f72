#include "speaker.h"

void speaker_start(speaker *p, uint16_t device, uint32_t session, const wire_hello *hello) {
	*p = (speaker){.hello = *hello, .hello_due = true};
	p->header.device = device;
	p->header.mcu_session = session;
	p->event_ms -= SPEAKER_EVENT_MS;
}

void speaker_tell(speaker *p, uint16_t code, uint32_t value, uint32_t now_ms) {
	uint8_t at = p->events < SPEAKER_EVENTS ? p->events : SPEAKER_EVENTS - 1u;
	p->event[at] = (speaker_event){code, value, now_ms};
	p->events = (uint8_t)(at + 1u);
}

void speaker_hear(speaker *p, const wire_frame *f) {
	if (f->class == WIRE_HELLO_REQUEST) {
		p->hello_due = true;
	} else if (f->class == WIRE_PARAMETERS_REQUEST) {
		p->piece = f->index;
		p->piece_due = true;
	}
}

static const wire_header *next(speaker *p, uint32_t peer) {
	p->header.host_session = peer;
	p->header.seq++;
	return &p->header;
}

static void send_event(speaker *p, wire_line *line, uint32_t peer, uint32_t now_ms) {
	speaker_event e = p->event[0];
	p->events--;
	for (uint8_t i = 0; i < SPEAKER_EVENTS - 1; i++) {
		p->event[i] = p->event[i + 1];
	}
	p->event_ms = now_ms;
	wire_put_event(line, next(p, peer), e.code, e.value, e.stamp_ms);
}

void speaker_other(speaker *p, wire_line *line, uint32_t peer, uint32_t now_ms, const warden_config *c) {
	line->n = 0;
	if (p->hello_due) {
		p->hello_due = false;
		p->hello.stamp_ms = now_ms;
		wire_put_hello(line, next(p, peer), &p->hello);
	} else if (peer == 0) {
		return;
	} else if (p->piece_due) {
		p->piece_due = false;
		if (p->piece < WIRE_PIECES) {
			(void)wire_put_parameters(line, next(p, peer), c, p->piece);
		}
	} else if (p->events > 0 && now_ms - p->event_ms >= SPEAKER_EVENT_MS) {
		send_event(p, line, peer, now_ms);
	}
}

// A tenth, exact for all 16 bits, without dividing.
static uint16_t tenth(uint16_t v) { return (uint16_t)((uint32_t)v * UINT32_C(52429) >> 19); }

// A tenth of up to 20 bits, at most 65,535.
static uint16_t tenth_long(uint32_t ms) {
	if (ms >= UINT32_C(655350)) {
		return UINT16_MAX;
	}
	uint16_t high = (uint16_t)(ms >> 4); // below 40,960
	uint16_t tens = tenth(high);         // 16 tens in every ten of high
	uint16_t rest = (uint16_t)((uint16_t)(high - (uint16_t)(tens * 10u)) << 4 | (uint16_t)(ms & 15u));
	return (uint16_t)((uint16_t)(tens << 4) + tenth(rest));
}

void speaker_snapshot(speaker *p, wire_line *line, uint32_t peer, const speaker_view *v) {
	const warden_state *s = &v->state;
	wire_snapshot m = {
		.stamp_ms = v->stamp_ms, .in = v->in.bits, .analog_ok = v->in.analog_ok,
		.glass_age_ms = v->in.glass_age_ms, .flags = v->flags,
		.out = v->out.bits, .fuel_ml = v->out.fuel_ml, .oxygen_ml = v->out.oxygen_ml,
		.spindle_drpm = v->out.spindle_drpm, .speed_cmms = v->out.speed_cmms,
		.force_dn = v->out.force_dn, .travel_cmm = v->out.travel_cmm,
		.burner = s->burner, .press = s->press, .spindle = s->spindle, .link = s->link,
		.lock = s->lock, .first = s->first, .trips = s->trips, .present = s->present,
		.arm_id = s->arm_id, .phase_cs = tenth_long(s->phase_ms), .unburnt = s->unburnt,
		.bad_frames = v->bad_frames, .gaps = v->gaps, .echo_seq = v->echo_seq,
	};
	for (uint8_t i = 0; i < NUM_ANALOG; i++) {
		m.analog[i] = v->in.analog[i];
	}
	for (uint8_t i = 0; i < NUM_LEASES; i++) {
		uint16_t cs = tenth(s->lease_ms[i]);
		m.lease_cs[i] = (uint8_t)(cs < UINT8_MAX ? cs : UINT8_MAX);
	}
	line->n = 0;
	wire_put_snapshot(line, next(p, peer), &m);
}
