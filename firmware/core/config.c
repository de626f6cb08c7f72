#include "wire_inside.h"

// The configuration as it travels and as it is hashed: field by field in the
// order of the struct, little-endian, without padding.

static void put_burner(wire_line *b, const warden_config *c) {
	put32(b, c->fitted_in);
	put16(b, c->fitted_analog);
	put16(b, c->options);
	put16(b, c->check_ms);
	put32(b, c->purge_ms);
	put16(b, c->igniter_ms);
	put16(b, c->trial_ms);
	put16(b, c->flame_on_ms);
	put16(b, c->prove_ms);
	put16(b, c->prove_dark_ms);
	put16(b, c->flame_off_ms);
	put16(b, c->oxygen_after_ms);
	put16(b, c->off_ms);
	put32(b, c->post_purge_ms);
	put16(b, c->valve_close_ms);
	put32(b, c->park_ms);
}

static void put_times(wire_line *b, const warden_config *c) {
	put16(b, c->lease_ms);
	put32(b, c->arm_ms);
	put32(b, c->creep_ms);
	put16(b, c->ramp_ms);
	put16(b, c->ease_ms);
	put16(b, c->retract_ms);
	put16(b, c->soft_ms);
}

static void put_limits(wire_line *b, const warden_config *c) {
	put16(b, c->fuel_max_ml);
	put16(b, c->soft_max_ml);
	put16(b, c->oxygen_max_ml);
	put16(b, c->spindle_max_drpm);
	put16(b, c->spindle_heat_drpm);
	put16(b, c->creep_drpm);
	put16(b, c->press_low_drpm);
	put16(b, c->press_high_drpm);
	put16(b, (uint16_t)c->open_cmm);
	put16(b, (uint16_t)c->heat_cmm);
	put16(b, (uint16_t)c->end_cmm);
	put16(b, c->speed_max_cmms);
	put16(b, c->hand_cmms);
	put16(b, c->force_max_dn);
	put16(b, c->over_force_dn);
	put16(b, c->ease_step_dn);
	put16(b, c->pull_max_dn);
	put16(b, c->contact_dn);
	put16(b, (uint16_t)c->glass_low_dc);
	put16(b, (uint16_t)c->glass_high_dc);
}

static void put_debounce(wire_line *b, const warden_config *c) {
	put16(b, c->view_ms);
	put16(b, c->sample_ms);
	put16(b, c->estimate_ms);
	put16(b, c->spindle_stall_ms);
	put16(b, c->extraction_ms);
	put16(b, c->extraction_wait_ms);
	put16(b, c->pressure_ms);
	put16(b, c->slide_ms);
	put16(b, c->button_ms);
	put16(b, c->hands_ms);
	put16(b, c->set_up_drpm);
}

static void put_flows(wire_line *b, const warden_config *c) {
	put16(b, c->part_ms);
	put16(b, c->part_cmms);
	put16(b, c->part_open_ms);
	put16(b, c->flow_settle_ms);
	put16(b, c->flow_off_ms);
	put16(b, c->flow_off_pc);
	put16(b, c->flow_off_ml);
	put16(b, c->flow_over_ms);
	put16(b, c->flow_over_pc);
	put16(b, c->flow_none_ml);
	put16(b, c->ratio_ms);
	put16(b, c->ratio_low_pc);
	put16(b, c->ratio_high_pc);
	put32(b, c->run_ms);
	put32(b, c->sharp_ms);
}

static void encode(wire_line *b, const warden_config *c) {
	b->n = 0;
	put_burner(b, c);
	put_times(b, c);
	put_limits(b, c);
	put_debounce(b, c);
	put_flows(b, c);
}

// The last piece carries what is left.
#define LAST_PIECE_BYTES (WIRE_CONFIG_BYTES - (WIRE_PIECES - 1) * WIRE_PIECE_BYTES)

// A configuration of another length than the table of PROTOCOL.md has is a
// fault of this file: nothing is answered.
bool wire_put_parameters(wire_line *line, const wire_header *h, const warden_config *c,
	uint8_t index) {
	wire_line whole;
	encode(&whole, c);
	line->n = 0;
	uint16_t from = (uint16_t)((uint16_t)index * (uint16_t)WIRE_PIECE_BYTES);
	if (whole.n != WIRE_CONFIG_BYTES || from >= WIRE_CONFIG_BYTES) {
		return false;
	}
	uint8_t n = index == WIRE_PIECES - 1 ? LAST_PIECE_BYTES : WIRE_PIECE_BYTES;
	begin_frame(line, h, WIRE_PARAMETERS, (uint8_t)(2u + n));
	put8(line, index);
	put8(line, WIRE_PIECES);
	for (uint8_t i = 0; i < WIRE_PIECE_BYTES; i++) {
		if (i < n) {
			put8(line, whole.bytes[from + i]);
		}
	}
	end_frame(line, 0);
	return true;
}

uint32_t wire_config_hash(const warden_config *c) {
	wire_line whole;
	encode(&whole, c);
	uint32_t crc = UINT32_MAX;
	for (uint8_t i = 0; i < WIRE_CONFIG_BYTES; i++) {
		crc = wire_crc(crc, whole.bytes[i]);
	}
	return ~crc;
}
