#include "inside.h"

// The gases as they flow. A flow controller or regulator that does not obey
// makes a flame that nobody asked for, and the flame guard sees it burn well:
// so what flows is held to what is asked (EN 746-2: a wrong ratio leads to shut-off).
//
// A host that regulates never stops changing what it asks, and a controller
// follows late. So a flow is held to the band of all that was asked in the last
// one to two flow_settle_ms, not to the newest set-point.

// The band of what was asked, mL/min.
typedef struct {
	uint16_t low;
	uint16_t high;
} band;

//@ requires \valid_read(f); assigns \nothing;
static band asked(const warden_flow *f) {
	band b = {least(f->low, f->was_low), greatest(f->high, f->was_high)};
	return b;
}

// A measured flow, mL/min; a meter's offset below nothing is nothing.
//@ requires \valid_read(in) && ai < NUM_ANALOG; assigns \nothing;
static uint16_t flowing(const input *in, uint8_t ai) {
	return in->analog[ai] < 0 ? 0 : (uint16_t)in->analog[ai];
}

// Follows one gas through this tick: asked_ml is what was driven, open that its
// valves were. It tells whether the flow has been off for long enough; how long it
// has been far above stays in the flow. Too much counts with the valves shut as
// well, too little only where something may flow.
/*@ requires \valid_read(c) && \valid(f) && \valid_read(in) && \separated(c, f, in) && ai < NUM_ANALOG;
    assigns *f; */
static bool flow_off(const config *c, warden_flow *f, const input *in, uint8_t ai, uint16_t asked_ml, bool open,
	bool turn) {
	if (turn) {
		f->was_low = f->low;
		f->was_high = f->high;
		f->low = asked_ml;
		f->high = asked_ml;
	} else {
		f->low = least(f->low, asked_ml);
		f->high = greatest(f->high, asked_ml);
	}
	if (!analog_ok(c, in, ai)) {
		f->off_ms = 0;
		f->over_ms = 0;
		return false;
	}
	band b = asked(f);
	uint16_t ml = flowing(in, ai);
	uint16_t above = ml > b.high ? (uint16_t)(ml - b.high) : 0;
	uint16_t below = ml < b.low ? (uint16_t)(b.low - ml) : 0;
	// As a rule without a product: those take their time on AVR.
	bool less = below > c->flow_off_ml && times(ml, 100) < times(b.low, (uint16_t)(100u - c->flow_off_pc));
	bool more = above > c->flow_off_ml && times(ml, 100) > times(b.high, (uint16_t)(100u + c->flow_off_pc));
	bool far = above > c->flow_none_ml && times(ml, 100) > times(b.high, c->flow_over_pc);
	f->off_ms = count_while(open && (less || more), f->off_ms);
	f->over_ms = count_while(far, f->over_ms);
	return f->off_ms >= c->flow_off_ms;
}

// What is asked of a gas has hardly changed within its band.
//@ requires \valid_read(c) && \valid_read(f); assigns \nothing;
static bool settled(const config *c, const warden_flow *f) {
	band b = asked(f);
	return (uint16_t)(b.high - b.low) <= c->flow_off_ml ||
		times(b.high, 100) <= times(b.low, (uint16_t)(100u + c->flow_off_pc));
}

// With both gases settled, oxygen to fuel as measured is outside its window: sooty
// and cold, or with oxygen left over.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool ratio_wrong(const config *c, const state *s, const input *in) {
	bool judged = (s->out.bits & OUT_OXYGEN) != 0 && c->ratio_high_pc != 0 &&
		analog_ok(c, in, AI_FUEL_FLOW) && analog_ok(c, in, AI_OXYGEN_FLOW) &&
		settled(c, &s->flow[FLOW_FUEL]) && settled(c, &s->flow[FLOW_OXYGEN]);
	if (!judged) {
		return false;
	}
	uint32_t oxygen = times(flowing(in, AI_OXYGEN_FLOW), 100);
	uint16_t fuel = flowing(in, AI_FUEL_FLOW);
	return oxygen < times(fuel, c->ratio_low_pc) || oxygen > times(fuel, c->ratio_high_pc);
}

// Oxygen or more fuel than a soft flame burns where the glass is.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
static bool sharp_at_blank(const config *c, const state *s, const input *in) {
	bool sharp = (s->out.bits & OUT_OXYGEN) != 0 || s->out.fuel_ml > c->soft_max_ml;
	return sharp && at_blank(c, in);
}

void detect_flow(const config *c, state *s, const input *in, cause_set *set) {
	s->flow_ms = up(s->flow_ms);
	bool turn = s->flow_ms >= c->flow_settle_ms;
	if (turn) {
		s->flow_ms = 0;
	}
	bool oxygen_open = (s->out.bits & OUT_OXYGEN) != 0;
	bool fuel = flow_off(c, &s->flow[FLOW_FUEL], in, AI_FUEL_FLOW, s->out.fuel_ml, fuel_open(s), turn);
	bool oxygen = flow_off(c, &s->flow[FLOW_OXYGEN], in, AI_OXYGEN_FLOW, s->out.oxygen_ml, oxygen_open, turn);
	mark(set, CAUSE_FLOW_OFF, fuel || oxygen);
	mark(set, CAUSE_FLOW_OVER, s->flow[FLOW_FUEL].over_ms >= c->flow_over_ms ||
		s->flow[FLOW_OXYGEN].over_ms >= c->flow_over_ms);
	s->ratio_ms = count_while(ratio_wrong(c, s, in), s->ratio_ms);
	mark(set, CAUSE_RATIO, s->ratio_ms >= c->ratio_ms);
	s->sharp_ms = count_while32(sharp_at_blank(c, s, in), s->sharp_ms);
	mark(set, CAUSE_SHARP_LONG, s->sharp_ms >= c->sharp_ms);
}
