// What the warden's files share. Nobody else includes this: warden.h is the
// way in. Names are those of the Go package safety/warden in C style.
#ifndef WARDEN_INSIDE_H
#define WARDEN_INSIDE_H

#include "proof.h"
#include "warden.h"

typedef warden_config config;
typedef warden_state state;
typedef warden_input input;
typedef warden_output output;

#define CAUSE_BIT(cause) (UINT64_C(1) << (cause))

#define FOREVER UINT16_C(0xFFFF) // where a saturating timer stops

#define STANDSTILL_DRPM 10 // speed that counts as standing, 1 rpm

#define ERROR_TRIP UINT32_C(179000) // see link.c

// A set is walked by bytes, most of which are 0, and a byte bit by bit: shifting
// 64 bits takes hundreds of cycles on AVR.
#define SET_BYTES 7

// A set of causes under way, a byte for every eight: setting a bit in a byte is
// quick on AVR, in 64 bits it is not.
typedef struct {
	uint8_t bytes[SET_BYTES];
} cause_set;

// Adds the cause where on.
//@ requires \valid(set) && cause < 56; assigns *set;
static inline void mark(cause_set *set, uint8_t cause, bool on) {
	if (on) {
		uint8_t *eight = &set->bytes[cause >> 3];
		*eight = (uint8_t)(*eight | 1u << (cause & 7u));
	}
}

enum { // numbers of the leases
	I_FUEL    = 0,
	I_OXYGEN  = 1,
	I_PRESS   = 2,
	I_SPINDLE = 3,
};

// Arithmetic that is the same with an int of 16 and of 32 bits: every result
// is cut to its size at once, and nothing is computed in a signed int.

//@ assigns \nothing;
static inline uint16_t up(uint16_t t) { return t == FOREVER ? t : (uint16_t)(t + 1u); }

//@ assigns \nothing;
static inline uint32_t up32(uint32_t t) { return t == UINT32_MAX ? t : t + 1u; }

// Counts t up as long as on holds and clears it otherwise.
//@ assigns \nothing;
static inline uint16_t count_while(bool on, uint16_t t) { return on ? up(t) : 0; }

// The same for times longer than a minute.
//@ assigns \nothing;
static inline uint32_t count_while32(bool on, uint32_t t) { return on ? up32(t) : 0; }

// A product of 16 bits each that keeps all 32.
//@ assigns \nothing;
static inline uint32_t times(uint16_t a, uint16_t b) { return (uint32_t)a * b; }

//@ assigns \nothing;
static inline uint16_t greatest(uint16_t a, uint16_t b) { return a > b ? a : b; }

//@ assigns \nothing;
static inline uint16_t least(uint16_t a, uint16_t b) { return a < b ? a : b; }

//@ assigns \nothing;
static inline int16_t least_signed(int16_t a, int16_t b) { return a < b ? a : b; }

//@ assigns \nothing;
static inline int16_t most_signed(int16_t a, int16_t b) { return a > b ? a : b; }

// The same 16 bits as two's complement, as Go's int16(v). The C standard
// leaves this to the compiler; gcc documents it to keep the bits.
//@ assigns \nothing;
static inline int16_t as_signed(uint16_t v) { return (int16_t)v; }

//@ requires \valid_read(in); assigns \nothing; ensures (\result != 0) <==> (in->bits & bit) != 0;
static inline bool has(const input *in, uint32_t bit) { return (in->bits & bit) != 0; }

//@ requires \valid_read(c); assigns \nothing;
static inline bool fitted(const config *c, uint32_t bit) { return (c->fitted_in & bit) != 0; }

//@ requires \valid_read(c); assigns \nothing;
static inline bool option(const config *c, uint16_t bit) { return (c->options & bit) != 0; }

//@ requires ai < NUM_ANALOG; assigns \nothing;
static inline uint16_t analog_bit(uint8_t ai) { return (uint16_t)(1u << ai); }

// The channel exists and its wire is intact.
//@ requires \valid_read(c) && \valid_read(in) && ai < NUM_ANALOG; assigns \nothing;
static inline bool analog_ok(const config *c, const input *in, uint8_t ai) {
	return (c->fitted_analog & in->analog_ok & analog_bit(ai)) != 0;
}

//@ requires \valid_read(s); assigns \nothing;
static inline bool fuel_open(const state *s) { return (s->out.bits & OUT_FUEL) != 0; }

//@ requires \valid_read(in); assigns \nothing;
static inline bool asks(const input *in, uint16_t flag) { return (in->request.flags & flag) != 0; }

// step.c
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool burner_clear(const config *c, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool at_blank(const config *c, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool heat_open(const config *c, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool turning(const config *c, const input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool moving(const config *c, const state *s, const input *in);
//@ requires \valid_read(c); assigns \nothing;
uint32_t unburnt_limit(const config *c);

// causes.c
//@ requires \valid(a) && \valid_read(b) && \separated(a, b); assigns *a;
void strongest(warden_reaction *a, const warden_reaction *b);

// link.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void step_link(const config *c, state *s, const input *in);
//@ requires \valid(s); assigns *s;
void void_start(state *s);
/*@ requires \valid_read(c) && \valid_read(s) && i < NUM_LEASES; assigns \nothing;
    ensures (\result != 0) <==> s->lease_ms[i] < c->lease_ms; */
bool leased(const config *c, const state *s, uint8_t i);
//@ requires \valid_read(s); assigns \nothing;
bool goes(const state *s);
//@ requires \valid_read(c) && \valid_read(s); assigns \nothing;
bool start_counts(const config *c, const state *s);

// latch.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void step_latch(const config *c, state *s, const input *in);
//@ requires \valid(s) && cause < 64; assigns s->trips, s->first, s->gas, s->spin, s->above, s->touch, s->lock;
void trip(state *s, uint8_t cause);

// detect.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \valid(set) && \separated(c, s, in, set); assigns *s, *set;
void detect(const config *c, state *s, const input *in, cause_set *set);
//@ requires \valid_read(s); assigns \nothing;
bool gas_active(const state *s);
//@ requires \valid_read(s); assigns \nothing;
bool gas_armed(const state *s);
//@ requires \valid_read(s); assigns \nothing;
bool host_opening(const state *s);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool over_force(const config *c, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool over_travel(const config *c, const input *in);

// flow.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \valid(set) && \separated(c, s, in, set); assigns *s, *set;
void detect_flow(const config *c, state *s, const input *in, cause_set *set);

// sensing.c
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool feels(const config *c, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool sensed(const config *c, const input *in);
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \valid(set) && \separated(c, s, in, set); assigns *s, *set;
void detect_sensing(const config *c, state *s, const input *in, cause_set *set);

// runaway.c
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool chuck_open(const config *c, const input *in);
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \valid(set) && \separated(c, s, in, set); assigns *s, *set;
void detect_runaway(const config *c, state *s, const input *in, cause_set *set);

// burner.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void step_burner(const config *c, state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool burner_in(const config *c, const state *s, const input *in);

// press.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void step_press(const config *c, state *s, const input *in);
//@ requires \valid_read(s); assigns \nothing;
uint8_t press_column(const state *s);
//@ requires \valid_read(s); assigns \nothing;
bool parting(const state *s);
//@ requires \valid_read(s); assigns \nothing;
bool pushing(const state *s);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool hand_opens(const config *c, const state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool may_leave_open(const config *c, const state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool stroke_flame_ok(const config *c, const state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool view_free(const config *c, const state *s, const input *in);

// spindle.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void step_spindle(const config *c, state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool spindle_at_press(const config *c, const input *in);

// hands.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void sense_hands(const config *c, state *s, const input *in);
//@ requires \valid(s) && \valid_read(in) && \separated(s, in); assigns *s;
void mark_hand_stroke(state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool pressed(const config *c, const input *in, uint32_t bit);
//@ requires \valid_read(s) && \valid_read(in) && pair < NUM_HANDS; assigns \nothing;
bool hand_guarded(const state *s, const input *in, uint8_t pair);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool hands_on_press(const config *c, const state *s, const input *in);
//@ requires \valid_read(s); assigns \nothing;
bool hands_released(const state *s);
//@ requires \valid_read(c) && \valid_read(in); assigns \nothing;
bool set_up(const config *c, const input *in);
//@ requires \valid_read(s); assigns \nothing;
bool working(const state *s);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool turning_slowly(const config *c, const state *s, const input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool hand_turn(const config *c, const state *s, const input *in);

// last.c

typedef struct { // what the last word needs of the state before the step
	bool locked; // this step may not let lockout go
	bool oxygen; // was open
} past;
/*@ requires \valid_read(s) && \valid_read(in); assigns \nothing;
    ensures (\result.locked != 0) <==> STAYS_LOCKED(s, in);
    ensures (\result.oxygen != 0) <==> (s->out.bits & OUT_OXYGEN) != 0; */
past look_back(const state *s, const input *in);
/*@ requires \valid_read(c) && \valid_read(s) && \valid_read(in) && \valid_read(p); assigns \nothing;
    ensures \result != 0 ==> STOP_OFF(in, s->out.bits) && LOCKOUT_OFF(s, s->out.bits) && LOCKED_BY_CAUSE(s) &&
        FUEL_LEASED(c, s, s->out.bits) && PRESS_LEASED(c, s, s->out.bits) && SOUND(s->out.bits);
    ensures \result != 0 && p->oxygen == 0 ==> OXYGEN_INTO_FLAME(c, s, s->out.bits);
    ensures \result != 0 ==> OXYGEN_IN_RUN(c, s, s->out.bits);
    ensures \result != 0 && p->locked != 0 ==> s->lock == LOCK_LOCKOUT; */
bool last_word(const config *c, const state *s, const input *in, const past *p);

// drive.c
//@ requires \valid_read(c) && \valid(s) && \valid_read(in) && \separated(c, s, in); assigns *s;
void drive(const config *c, state *s, const input *in);

#endif
