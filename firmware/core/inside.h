// What the warden's files share. Nobody else includes this: warden.h is the
// way in. Names are those of the Go package safety/warden in C style.
#ifndef WARDEN_INSIDE_H
#define WARDEN_INSIDE_H

#include "warden.h"

typedef warden_config config;
typedef warden_state state;
typedef warden_input input;
typedef warden_output output;

#define CAUSE_BIT(cause) (UINT64_C(1) << (cause))

#define FOREVER UINT16_C(0xFFFF) // where a saturating timer stops

#define STANDSTILL_DRPM 10 // speed that counts as standing, 1 rpm

#define ERROR_TRIP UINT32_C(179000) // see link.c

enum { // numbers of the leases
	I_FUEL    = 0,
	I_OXYGEN  = 1,
	I_PRESS   = 2,
	I_SPINDLE = 3,
};

// Arithmetic that is the same with an int of 16 and of 32 bits: every result
// is cut to its size at once, and nothing is computed in a signed int.

static inline uint16_t up(uint16_t t) { return t == FOREVER ? t : (uint16_t)(t + 1u); }

static inline uint32_t up32(uint32_t t) { return t == UINT32_MAX ? t : t + 1u; }

// Counts t up as long as on holds and clears it otherwise.
static inline uint16_t count_while(bool on, uint16_t t) { return on ? up(t) : 0; }

static inline uint16_t least(uint16_t a, uint16_t b) { return a < b ? a : b; }

static inline int16_t least_signed(int16_t a, int16_t b) { return a < b ? a : b; }

static inline int16_t most_signed(int16_t a, int16_t b) { return a > b ? a : b; }

// The same 16 bits as two's complement, as Go's int16(v). The C standard
// leaves this to the compiler; gcc documents it to keep the bits.
static inline int16_t as_signed(uint16_t v) { return (int16_t)v; }

static inline bool has(const input *in, uint32_t bit) { return (in->bits & bit) != 0; }

static inline bool fitted(const config *c, uint32_t bit) { return (c->fitted_in & bit) != 0; }

static inline bool option(const config *c, uint16_t bit) { return (c->options & bit) != 0; }

static inline uint16_t analog_bit(uint8_t ai) { return (uint16_t)(1u << ai); }

// The channel exists and its wire is intact.
static inline bool analog_ok(const config *c, const input *in, uint8_t ai) {
	return (c->fitted_analog & in->analog_ok & analog_bit(ai)) != 0;
}

static inline bool fuel_open(const state *s) { return (s->out.bits & OUT_FUEL) != 0; }

static inline bool asks(const input *in, uint16_t flag) { return (in->request.flags & flag) != 0; }

// step.c
bool burner_clear(const config *c, const input *in);
bool at_blank(const config *c, const input *in);
bool heat_open(const config *c, const input *in);
bool turning(const config *c, const input *in);
bool moving(const config *c, const state *s, const input *in);
uint32_t unburnt_limit(const config *c);

// causes.c
void strongest(warden_reaction *a, const warden_reaction *b);

// link.c
void step_link(const config *c, state *s, const input *in);
void void_start(state *s);
bool leased(const config *c, const state *s, uint8_t i);

// latch.c
void step_latch(const config *c, state *s, const input *in);
void trip(state *s, uint8_t cause);

// detect.c
uint64_t detect(const config *c, state *s, const input *in);
bool gas_active(const state *s);
bool gas_armed(const state *s);
bool host_opening(const state *s);
bool over_force(const config *c, const input *in);
bool over_travel(const config *c, const input *in);

// burner.c
void step_burner(const config *c, state *s, const input *in);
bool burner_in(const config *c, const state *s, const input *in);

// press.c
void step_press(const config *c, state *s, const input *in);
uint8_t press_column(const state *s);
bool pushing(const state *s);
bool may_leave_open(const config *c, const state *s, const input *in);
bool stroke_flame_ok(const config *c, const state *s, const input *in);
bool view_free(const config *c, const state *s, const input *in);

// spindle.c
void step_spindle(const config *c, state *s, const input *in);
bool spindle_at_press(const config *c, const input *in);

// hands.c
void sense_hands(const config *c, state *s, const input *in);
void mark_hand_stroke(state *s, const input *in);
bool pressed(const config *c, const input *in, uint32_t bit);
bool shielded(const state *s, const input *in);
bool hand_guarded(const state *s, const input *in, uint8_t pair);
bool hands_on_press(const config *c, const state *s, const input *in);
bool hands_released(const state *s);
bool set_up(const config *c, const input *in);
bool working(const state *s);
bool turning_slowly(const config *c, const state *s, const input *in);
bool hand_turn(const config *c, const state *s, const input *in);

// last.c
typedef struct { // what the last word needs of the state before the step
	uint64_t kept; // trips that this step may not clear
	bool oxygen;   // oxygen was open
} past;
past look_back(const state *s, const input *in);
bool last_word(const config *c, const state *s, const input *in, const past *p);

// drive.c
void drive(const config *c, state *s, const input *in);

#endif
