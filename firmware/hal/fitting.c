#include "fitting.h"

#include "../boards/mega2560/block.h"
#include "../core/wire_inside.h"
#include "within.h"

enum { FULL_STEPS = 16000 };

// Gains that no transmitter and no encoder needs. A converter's is made 16 times
// finer and then still fits 32 bits beside its counts.
#define MOST_GAIN      (INT32_C(1) << 17)
#define MOST_STEP_GAIN INT32_C(0x7FFF)
#define MOST_COUNTS    1023 // of the converter

// A place in the block that moves on.
typedef struct {
	uint8_t (*read)(uint16_t at);
	uint16_t at;
} reader;

static uint8_t next8(reader *r) {
	uint8_t v = r->read(r->at);
	r->at++;
	return v;
}

static uint16_t next16(reader *r) {
	uint16_t low = next8(r);
	return (uint16_t)(low | (uint16_t)next8(r) << 8);
}

static uint32_t next32(reader *r) {
	uint32_t low = next16(r);
	return low | (uint32_t)next16(r) << 16;
}

static bool whole(reader *r) {
	uint32_t crc = UINT32_MAX;
	r->at = 0;
	for (uint16_t i = 0; i < BLOCK_CRC; i++) {
		crc = wire_crc(crc, next8(r));
	}
	return next32(r) == ~crc;
}

static void read_burner(reader *r, warden_config *c) {
	c->fitted_in = next32(r);
	c->fitted_analog = next16(r);
	c->options = next16(r);
	c->check_ms = next16(r);
	c->purge_ms = next32(r);
	c->igniter_ms = next16(r);
	c->trial_ms = next16(r);
	c->flame_on_ms = next16(r);
	c->prove_ms = next16(r);
	c->prove_dark_ms = next16(r);
	c->flame_off_ms = next16(r);
	c->oxygen_after_ms = next16(r);
	c->off_ms = next16(r);
	c->post_purge_ms = next32(r);
	c->valve_close_ms = next16(r);
	c->park_ms = next32(r);
	c->lease_ms = next16(r);
	c->arm_ms = next32(r);
	c->creep_ms = next32(r);
	c->ramp_ms = next16(r);
	c->ease_ms = next16(r);
	c->retract_ms = next16(r);
	c->soft_ms = next16(r);
}

static void read_limits(reader *r, warden_config *c) {
	c->fuel_max_ml = next16(r);
	c->soft_max_ml = next16(r);
	c->oxygen_max_ml = next16(r);
	c->spindle_max_drpm = next16(r);
	c->spindle_heat_drpm = next16(r);
	c->creep_drpm = next16(r);
	c->press_low_drpm = next16(r);
	c->press_high_drpm = next16(r);
	c->open_cmm = (int16_t)next16(r);
	c->heat_cmm = (int16_t)next16(r);
	c->end_cmm = (int16_t)next16(r);
	c->speed_max_cmms = next16(r);
	c->hand_cmms = next16(r);
	c->force_max_dn = next16(r);
	c->over_force_dn = next16(r);
	c->ease_step_dn = next16(r);
	c->pull_max_dn = next16(r);
	c->contact_dn = next16(r);
	c->glass_low_dc = (int16_t)next16(r);
	c->glass_high_dc = (int16_t)next16(r);
	c->view_ms = next16(r);
	c->sample_ms = next16(r);
	c->estimate_ms = next16(r);
	c->spindle_stall_ms = next16(r);
	c->extraction_ms = next16(r);
	c->extraction_wait_ms = next16(r);
	c->pressure_ms = next16(r);
	c->slide_ms = next16(r);
	c->button_ms = next16(r);
	c->hands_ms = next16(r);
	c->set_up_drpm = next16(r);
}

static void read_flows(reader *r, warden_config *c) {
	c->part_ms = next16(r);
	c->part_cmms = next16(r);
	c->part_open_ms = next16(r);
	c->flow_settle_ms = next16(r);
	c->flow_off_ms = next16(r);
	c->flow_off_pc = next16(r);
	c->flow_off_ml = next16(r);
	c->flow_over_ms = next16(r);
	c->flow_over_pc = next16(r);
	c->flow_none_ml = next16(r);
	c->ratio_ms = next16(r);
	c->ratio_low_pc = next16(r);
	c->ratio_high_pc = next16(r);
	c->run_ms = next32(r);
	c->sharp_ms = next32(r);
}

static void read_analog(reader *r, fitting_analog *a) {
	a->least = next16(r);
	a->most = next16(r);
	a->zero = next16(r);
	a->low = (int16_t)next16(r);
	a->gain = (int32_t)next32(r);
}

bool fitting_read(fitting *f, uint8_t (*read)(uint16_t at)) {
	static const uint8_t magic[4] = {'P', 'R', 'G', '1'};
	reader r = {read, 0};
	*f = (fitting){0};
	for (uint8_t i = 0; i < 4; i++) {
		if (next8(&r) != magic[i]) {
			return false;
		}
	}
	uint16_t device = next16(&r);
	if (next16(&r) != BLOCK_LAYOUT_2 || !whole(&r)) {
		return false;
	}
	f->device = device;
	r.at = BLOCK_LENGTH;
	f->length = next32(&r);
	f->program = next32(&r);
	read_burner(&r, &f->config);
	read_limits(&r, &f->config);
	read_flows(&r, &f->config);
	for (uint8_t i = 0; i < NUM_ANALOG; i++) {
		read_analog(&r, &f->analog[i]);
		int32_t most = i == AI_TRAVEL ? MOST_STEP_GAIN : MOST_GAIN;
		uint16_t zero = i == AI_TRAVEL ? UINT16_MAX : MOST_COUNTS;
		if (f->analog[i].gain > most || f->analog[i].gain < -most || f->analog[i].zero > zero) {
			*f = (fitting){0};
			return false;
		}
		f->analog[i].gain *= 16; // 1/65,536 from now on: a shift by 16 is free
	}
	for (uint8_t i = 0; i < NUM_SETPOINTS; i++) {
		f->setpoints[i] = next32(&r);
	}
	return true;
}

int16_t fitting_value(const fitting_analog *a, uint16_t counts) {
	int32_t away = (int32_t)counts - a->zero; // 11 bits, the gain has 21 and a sign
	return within16(a->low + (away * a->gain >> 16));
}

int16_t fitting_travel(const fitting_analog *a, int16_t counts) {
	int16_t away = within16((int32_t)counts - a->zero);
	int16_t gain = (int16_t)(a->gain >> 4); // as coarse as in the block: 16 bits by 16
	return within16(a->low + ((int32_t)away * gain >> 12));
}

uint16_t fitting_steps(uint32_t gain, uint16_t value) {
	if (value == 0) {
		return 0;
	}
	// In two halves, so that nothing wraps whatever the gain is.
	uint16_t high = (uint16_t)(gain >> 16);
	uint16_t low = (uint16_t)(gain & UINT32_C(0xFFFF));
	uint32_t steps = (uint32_t)high * value + ((uint32_t)low * value >> 16);
	return steps < FULL_STEPS ? (uint16_t)steps : FULL_STEPS;
}
