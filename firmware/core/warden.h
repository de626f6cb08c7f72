// The warden: the program on the microcontroller that says when gas, flame,
// press and spindle may run. One warden_step a millisecond, from inputs to
// outputs, in C99 and whole numbers.
//
// It is NOT a safety device. It is ordinary control software beside certified
// hardware (emergency stop chain, burner control with its own lockout, double
// valves, end switches), never in place of it. Local codes and a competent
// person's risk assessment come first.
//
// The executable specification is the Go package safety/warden: file for file,
// function for function, field for field and number for number the same, and
// bit for bit the same outputs. Change that first; tests in firmware/ fail
// until this follows.
//
// It never allocates, recurses, divides, waits, reads a clock or touches
// hardware, and every loop has a constant bound. Nothing depends on the size
// of int, which has 16 bits on the ATmega2560.
//
// How to use it:
//   1. Outputs off. Fill a warden_config that has passed the check.
//   2. warden_init with the byte that non-volatile memory gives.
//   3. Each millisecond: fill a warden_input, call warden_step_filter on it, then
//      warden_step, drive exactly what warden_output says, store its nv byte where
//      it differs. The filter is zeros at power-up.
//   4. Feed the watchdog only after step 3 of the same millisecond.
// In warden_input an input that is not fitted is 0, a broken wire is the
// dangerous state, fresh, new_session and bad_frames count for one tick only.
//
// Start reading at step.c; causes.c is the cause-and-effect matrix as data.
#ifndef WARDEN_H
#define WARDEN_H

#include <stdbool.h>
#include <stdint.h>

// warden_config.options.
enum {
	OPT_SPINDLE_TURNS      = 1 << 0,  // press state: turning in its speed window
	OPT_SPINDLE_INDEXED    = 1 << 1,  // press state: standing at its index; neither bit: standing
	OPT_SPINDLE_FITTED     = 1 << 2,  // a spindle drive exists
	OPT_BURNER_DRIVEN      = 1 << 3,  // the slide is an output
	OPT_BURNER_FIXED       = 1 << 4,  // burner cannot meet the stroke
	OPT_PRESS_DRIVEN       = 1 << 5,  // press is an output; else pulled by hand against a brake
	OPT_VIEW_ALWAYS        = 1 << 6,  // the thermometer's line of sight never crosses the flame
	OPT_STROKE_FLAME_CLEAR = 1 << 7,  // flame may stay lit, clear, during the stroke
	OPT_STROKE_FLAME_SOFT  = 1 << 8,  // a fixed burner may stay on soft flame during the stroke
	OPT_PARKED_DOOR_OPEN   = 1 << 9,  // a parked soft flame may burn with the door open
	OPT_OXYGEN_FITTED      = 1 << 10,
	OPT_FAN_SAFE           = 1 << 11, // fan motor and contactor outside the hazardous area, or rated for it
	OPT_SELF_CHECKING      = 1 << 12, // the flame control checks its own sensor while it burns
};

// The warden's configuration: compiled or written once at the board. The host
// may read it, never widen it. It must have passed the check against the
// standards' limits (package safety) before it is used: the warden does not
// check it again.
typedef struct {
	uint32_t fitted_in;          // IN_... bits that exist on this rig
	uint16_t fitted_analog;      // 1 << AI_... that exist
	uint16_t options;            // OPT_...

	uint16_t check_ms;           // flame absent this long before purge (5,000)
	uint32_t purge_ms;           // >= 30,000 and 5 air changes
	uint16_t igniter_ms;         // igniter on before fuel (1,000)
	uint16_t trial_ms;           // <= 3,000
	uint16_t flame_on_ms;        // unbroken flame that ends the trial (100)
	uint16_t prove_ms;           // unbroken flame with igniter (1,000)
	uint16_t prove_dark_ms;      // unbroken flame without igniter (1,000)
	uint16_t flame_off_ms;       // flame-failure response: lost this long trips (<= 900)
	uint16_t oxygen_after_ms;    // unbroken flame before oxygen (>= 1,000)
	uint16_t off_ms;             // oxygen shut to fuel shut (500, <= 1,000)
	uint32_t post_purge_ms;      // >= 30,000
	uint16_t valve_close_ms;     // closing time of the slowest fuel valve (<= 1,000)
	uint32_t park_ms;            // longest parked flame without a cycle

	uint16_t lease_ms;           // 500
	uint32_t arm_ms;             // 60,000
	uint32_t creep_ms;           // <= 120,000
	uint16_t ramp_ms;            // spindle ramp, then power off (<= 1,000)
	uint16_t ease_ms;            // press force ramp-down (<= 1,000)
	uint16_t retract_ms;         // longest opening movement
	uint16_t soft_ms;            // SOFT permits a stroke for this long, where no thermometer is fitted

	uint16_t fuel_max_ml;        // mL/min
	uint16_t soft_max_ml;        // most fuel of a soft flame, mL/min
	uint16_t oxygen_max_ml;      // mL/min
	uint16_t spindle_max_drpm;
	uint16_t spindle_heat_drpm;  // least speed that counts as turning
	uint16_t creep_drpm;
	uint16_t press_low_drpm;     // press state when turning: speed window
	uint16_t press_high_drpm;
	int16_t open_cmm;            // travel up to which the press counts as open
	int16_t heat_cmm;            // travel up to which heating is safe (named position)
	int16_t end_cmm;             // largest travel ever asked for
	uint16_t speed_max_cmms;     // press speed
	uint16_t hand_cmms;          // hold-to-run speed (<= 1,000, 10 mm/s)
	uint16_t force_max_dn;       // press force
	uint16_t over_force_dn;      // force that trips (above force_max_dn, below what breaks the mould)
	uint16_t ease_step_dn;       // force taken off each ms while easing: force_max_dn over ease_ms, rounded up
	uint16_t pull_max_dn;        // largest pull when opening
	uint16_t contact_dn;         // force that means contact
	int16_t glass_low_dc;        // clip of the press window
	int16_t glass_high_dc;
	uint16_t view_ms;            // burner clear this long before the thermometer is believed (300)
	uint16_t sample_ms;          // oldest glass sample for a stroke (200)
	uint16_t estimate_ms;        // oldest sample under an extrapolation (2,000)
	uint16_t spindle_stall_ms;   // not turning while heating (2,000)
	uint16_t extraction_ms;      // lost this long while fuel is open (500)
	uint16_t extraction_wait_ms; // not proven this long in purge (10,000)
	uint16_t pressure_ms;        // pressure switches' debounce (200)
	uint16_t slide_ms;           // burner slide's longest movement
	uint16_t button_ms;          // longest press of a button before it counts as stuck (3,000)
	uint16_t hands_ms;           // two-hand control: both actuators within this (500, ISO 13851)
	uint16_t set_up_drpm;        // hold-to-run speed of the spindle in set-up (<= 400, 40 rpm)

	// after a lost flame in contact
	uint16_t part_ms;            // force eased and halves at rest this long before they part (<= 10,000)
	uint16_t part_cmms;          // speed at which they part (<= hand_cmms)
	uint16_t part_open_ms;       // longest parting movement

	// flows against what is asked
	uint16_t flow_settle_ms;     // what was asked in the last one to two of these is the band that flows are held to (1,000)
	uint16_t flow_off_ms;        // off the band this long aborts (2,000)
	uint16_t flow_off_pc;        // off by more than this share, percent (20)
	uint16_t flow_off_ml;        // and by more than this, mL/min (100)
	uint16_t flow_over_ms;       // far above the band this long locks out (500)
	uint16_t flow_over_pc;       // above this share of what is asked, percent (150)
	uint16_t flow_none_ml;       // and by more than this, also where none is asked, mL/min (200)
	uint16_t ratio_ms;           // ratio outside its window this long aborts (2,000)
	uint16_t ratio_low_pc;       // oxygen to fuel, percent by volume; both ends 0: not judged
	uint16_t ratio_high_pc;

	uint32_t run_ms;             // longest burning before a light-off, whose dark check proves the flame sensor (8 h)
	uint32_t sharp_ms;           // longest sharp flame at the blank
} warden_config;

// Digital inputs: bits of warden_input.bits. The numbers are on the wire and in the
// journal: written out, never renumbered.
#define IN_ESTOP_OK        (UINT32_C(1) << 0)  // emergency stop loop closed
#define IN_DOOR_CLOSED     (UINT32_C(1) << 1)  // safety door (the guard) closed
#define IN_FLAME           (UINT32_C(1) << 2)  // flame seen, unfiltered
#define IN_EXTRACTION      (UINT32_C(1) << 3)  // extraction flow switch made
#define IN_FUEL_LOW        (UINT32_C(1) << 4)  // fuel pressure below its low switch
#define IN_FUEL_HIGH       (UINT32_C(1) << 5)  // fuel pressure above its high switch
#define IN_OXYGEN_LOW      (UINT32_C(1) << 6)  // oxygen pressure below its low switch
#define IN_OXYGEN_HIGH     (UINT32_C(1) << 7)  // oxygen pressure above its high switch
#define IN_PRESS_OPEN      (UINT32_C(1) << 8)  // end switch: press fully open
#define IN_PRESS_END       (UINT32_C(1) << 9)  // end switch: press past its last allowed position
#define IN_BURNER_AT_BLANK (UINT32_C(1) << 10) // burner slide proven at the blank
#define IN_BURNER_CLEAR    (UINT32_C(1) << 11) // burner slide proven clear of the stroke
#define IN_FUEL_SHUT       (UINT32_C(1) << 12) // feedback: both fuel valves shut
#define IN_OXYGEN_SHUT     (UINT32_C(1) << 13) // feedback: oxygen valve shut
#define IN_START           (UINT32_C(1) << 14) // START button at the rig, pressed
#define IN_RESET           (UINT32_C(1) << 15) // RESET button at the rig, pressed
#define IN_SOFT            (UINT32_C(1) << 16) // SOFT button at the rig, pressed
#define IN_HOLD_OPEN       (UINT32_C(1) << 17) // hold-to-run: open the press
#define IN_HOLD_CLOSE      (UINT32_C(1) << 18) // hold-to-run: close the press slowly
#define IN_CHUCK_CLAMPED   (UINT32_C(1) << 19) // chuck clamped
#define IN_INDEXED         (UINT32_C(1) << 20) // spindle standing at its index position
#define IN_GAS_ALARM       (UINT32_C(1) << 21) // gas or oxygen (>= 23.5 %) detector
#define IN_FLASHBACK       (UINT32_C(1) << 22) // flashback arrestor or over-pressure trip
#define IN_OVER_FORCE      (UINT32_C(1) << 23) // over-force switch of the press
#define IN_MAINS_OK        (UINT32_C(1) << 24) // mains present
#define IN_TWO_HAND_LEFT   (UINT32_C(1) << 25) // two-hand control, left actuator pressed
#define IN_TWO_HAND_RIGHT  (UINT32_C(1) << 26) // two-hand control, right actuator pressed
#define IN_SET_UP          (UINT32_C(1) << 27) // key switch at the rig stands at set-up
#define IN_HOLD_TURN       (UINT32_C(1) << 28) // hold-to-run: turn the spindle slowly, in set-up only
#define IN_WATCHDOG_OK     (UINT32_C(1) << 29) // outside watchdog's contact in the chain closed

// Analog inputs: indices of warden_input.analog, bits 1 << index of warden_input.analog_ok.
// The comment gives unit of one count.
enum {
	AI_GLASS           = 0,  // glass temperature, 0.1 C
	AI_MOULD_LOWER     = 1,  // lower mould half, 0.1 C
	AI_MOULD_UPPER     = 2,  // upper mould half, 0.1 C
	AI_TRAVEL          = 3,  // press travel from fully open, 0.01 mm, grows while closing
	AI_FORCE           = 4,  // press force, 0.1 N, positive pressing, negative pulling
	AI_SPINDLE         = 5,  // spindle speed, 0.1 rpm
	AI_FUEL_FLOW       = 6,  // fuel flow, 1 mL/min
	AI_OXYGEN_FLOW     = 7,  // oxygen flow, 1 mL/min
	AI_FUEL_PRESSURE   = 8,  // fuel pressure, 1 mbar
	AI_OXYGEN_PRESSURE = 9,  // oxygen pressure, 1 mbar

	NUM_ANALOG         = 10,
};

// The non-volatile byte. Any other value counts as unreadable and locks out at
// boot. The values differ in every bit pair so that a decayed cell is none.
enum {
	NV_CLEAR   = 0x5A, // standby, nothing to remember
	NV_RUNNING = 0x3C, // a light-up was under way: fuel may have been open
	NV_LOCKOUT = 0xA5, // locked out
};

// Leases: bits of warden_request.lease. Each is dead lease_ms after the last accepted
// request that renewed it.
enum {
	LEASE_FUEL    = 1 << 0,
	LEASE_OXYGEN  = 1 << 1,
	LEASE_PRESS   = 1 << 2,
	LEASE_SPINDLE = 1 << 3,

	NUM_LEASES    = 4,
};

// warden_request.flags.
enum {
	REQ_ARM       = 1 << 0, // keep the START button armed for arm_id
	REQ_CYCLE     = 1 << 1, // the cycle that START began still runs; dropping it voids START
	REQ_FLAME     = 1 << 2, // burner: light up if needed, keep lit
	REQ_OXYGEN    = 1 << 3, // open oxygen once the flame is proven
	REQ_BURNER_IN = 1 << 4, // burner to the blank; clear when absent
	REQ_RESET     = 1 << 5, // clear hold or abort (never lockout) once its causes are gone
	REQ_HORN      = 1 << 6, // sound the horn: the operator is called
	REQ_ESTIMATE  = 1 << 7, // est_..., an extrapolation, accompanies the stroke
	REQ_ABORT     = 1 << 8, // shut everything now (both gases in one tick) and latch an abort
	REQ_HANDS     = 1 << 9, // hands at the moulds, paused or held: motion and heat wait for START
};

// warden_request.press: what the host asks of the press.
enum {
	PRESS_NONE  = 0, // stay where it is, brake on
	PRESS_CLOSE = 1, // close towards travel at speed, at most force
	PRESS_FORCE = 2, // press with force, to a stop at travel
	PRESS_OPEN  = 3, // open towards travel at speed
};

// What the host asks for. It energises nothing by itself: every
// field is granted only under a live lease and the warden's own permits.
typedef struct {
	uint8_t lease;         // LEASE_... bits renewed by this request
	uint8_t press;         // PRESS_...
	uint16_t flags;        // REQ_...
	uint16_t arm_id;       // which arming; a new number is a new arming
	uint16_t fuel_ml;      // fuel flow set-point, mL/min
	uint16_t oxygen_ml;    // oxygen flow set-point, mL/min
	uint16_t spindle_drpm; // spindle speed, 0.1 rpm
	int16_t travel_cmm;    // press target from fully open, 0.01 mm
	uint16_t speed_cmms;   // press speed, 0.01 mm/s
	uint16_t force_dn;     // press force limit, 0.1 N
	int16_t glass_low_dc;  // press window, low end, 0.1 C; taken at arming
	int16_t glass_high_dc; // press window, high end, 0.1 C; taken at arming
	int16_t est_dc;        // extrapolated glass temperature, 0.1 C
	uint16_t est_unc_dc;   // its uncertainty, 0.1 C
	uint16_t est_age_ms;   // age of the sample it stands on, ms
} warden_request;

// Everything the warden sees in one tick of one millisecond.
typedef struct {
	uint32_t bits;              // digital inputs, IN_...
	int16_t analog[NUM_ANALOG]; // see AI_...
	uint16_t analog_ok;         // bit 1 << AI_...: wire intact and value in range
	uint16_t glass_age_ms;      // age of the glass sample, saturating

	warden_request request;     // the newest accepted request; meaningful while fresh or leased
	uint8_t fresh;              // 1 in the tick in which a request was accepted
	uint8_t new_session;        // 1 in the tick in which the host opened a new session
	uint8_t bad_frames;         // frames refused for corruption in this tick

	uint8_t nv;                 // the non-volatile byte as read back; see NV_...
} warden_input;

// Outputs: bits of warden_output.bits. Energising: fuel, oxygen, igniter, burner in,
// spindle start, closing force. Written out, never renumbered.
enum {
	OUT_FUEL1       = 1 << 0,                // first fuel valve
	OUT_FUEL2       = 1 << 1,                // second fuel valve
	OUT_OXYGEN      = 1 << 2,                // oxygen valves
	OUT_IGNITER     = 1 << 3,
	OUT_FAN         = 1 << 4,                // extraction fan
	OUT_BURNER_IN   = 1 << 5,                // burner slide to the blank; clear without
	OUT_SPINDLE     = 1 << 6,                // spindle drive powered
	OUT_PRESS_CLOSE = 1 << 7,                // closing force
	OUT_PRESS_OPEN  = 1 << 8,                // opening force
	OUT_BRAKE       = 1 << 9,                // press brake holds
	OUT_ARMED_LAMP  = 1 << 10,
	OUT_HORN        = 1 << 11,
	OUT_LOCK_LAMP   = 1 << 12,               // lockout lamp

	OUT_FUEL        = OUT_FUEL1 | OUT_FUEL2,
};

// Burner phases.
enum {
	BURNER_STANDBY    = 0,
	BURNER_CHECK      = 1,  // valves shut, flame absent, permissives
	BURNER_PURGE      = 2,  // extraction proven, clock runs only then
	BURNER_IGNITER    = 3,  // igniter on, fuel not yet
	BURNER_TRIAL      = 4,  // trial for ignition
	BURNER_PROVE      = 5,  // flame must stay, igniter on
	BURNER_PROVE_DARK = 6,  // flame must stay, igniter off
	BURNER_RUN        = 7,  // flame proven; oxygen on request
	BURNER_OFF        = 8,  // oxygen shut, fuel about to be
	BURNER_POST_PURGE = 9,
	BURNER_LOCKOUT    = 10,

	NUM_BURNER        = 11,
};

// Press phases.
enum {
	PRESS_OFF        = 0, // no force, brake on
	PRESS_STAY       = 1, // stands where it is, brake on
	PRESS_CLOSING    = 2, // approach, before contact
	PRESS_CONTACT    = 3, // in contact, force within its limit
	PRESS_OPENING    = 4,
	PRESS_EASING     = 5, // ramp force down, then stay
	PRESS_HAND_OPEN  = 6, // hold-to-run
	PRESS_HAND_CLOSE = 7, // hold-to-run, slow

	NUM_PRESS        = 8,
};

// Spindle phases.
enum {
	SPINDLE_OFF   = 0, // unpowered
	SPINDLE_RUN   = 1, // at the requested speed
	SPINDLE_CREEP = 2, // slow, keeps soft glass round, for creep_ms at most
	SPINDLE_RAMP  = 3, // controlled stop, then off
	SPINDLE_HAND  = 4, // hold-to-run in set-up, slow

	NUM_SPINDLE   = 5,
};

// Link phases.
enum {
	LINK_DOWN    = 0, // no live lease
	LINK_UP      = 1,
	LINK_ARMED   = 2, // START counts
	LINK_STARTED = 3, // START was pressed; the cycle may energise
	LINK_WAITING = 4, // the cycle runs, but motion and heat wait for a new START

	NUM_LINK     = 5,
};

// What the warden drives in one tick. A set-point is zero whenever
// its bit is off.
typedef struct {
	uint16_t bits;         // OUT_...
	uint16_t fuel_ml;      // mL/min
	uint16_t oxygen_ml;    // mL/min
	uint16_t spindle_drpm; // 0.1 rpm
	uint16_t speed_cmms;   // press speed, 0.01 mm/s
	uint16_t force_dn;     // press force limit, 0.1 N
	int16_t travel_cmm;    // press target, 0.01 mm
	uint8_t nv;            // the byte that non-volatile memory shall hold
} warden_output;

// Causes: the row numbers of the cause-and-effect matrix (docs/assessor.md), bit
// 1 << cause of a cause set. Written out, never renumbered. Rows that only the
// supervisor can see (18 to 20, 22, 24 to 29) are not the warden's.
enum {
	CAUSE_NONE              = 0,
	CAUSE_ESTOP             = 1,
	CAUSE_DOOR              = 2,
	CAUSE_FLAME_LOST        = 3,
	CAUSE_NO_IGNITION       = 4,
	CAUSE_FALSE_FLAME       = 5,
	CAUSE_FUEL_LOW          = 6,
	CAUSE_FUEL_HIGH         = 7,
	CAUSE_OXYGEN_LOW        = 8,
	CAUSE_OXYGEN_HIGH       = 9,
	CAUSE_SPINDLE_STILL     = 10,
	CAUSE_PRESS_STATE       = 11,
	CAUSE_SPINDLE_STALL     = 12,
	CAUSE_OVER_FORCE        = 13,
	CAUSE_OVER_TRAVEL       = 14,
	CAUSE_NOT_OPEN_FOR_HEAT = 15,
	CAUSE_LEFT_OPEN         = 16,
	CAUSE_STUCK             = 17,
	CAUSE_LINK_LOST         = 21,
	CAUSE_RESTART           = 23,
	CAUSE_EXTRACTION        = 30,
	CAUSE_GAS_ALARM         = 31,
	CAUSE_FLASHBACK         = 32,
	CAUSE_FEEDBACK          = 33,
	CAUSE_TWO_HAND          = 34,
	CAUSE_BAD_FRAMES        = 35,
	CAUSE_MAINS             = 36,
	CAUSE_BUTTON            = 37,
	CAUSE_UNBURNT           = 38, // ours: the unburnt-fuel budget is used up
	CAUSE_SLIDE             = 39, // ours: the burner slide did not arrive
	CAUSE_HOST_ABORT        = 40, // ours: the supervisor or the operator aborts
	CAUSE_NV                = 41, // ours: non-volatile memory does not take or give its byte

	CAUSE_SET_UP            = 42, // ours: the key switch was turned to set-up during a cycle

	CAUSE_FORCE_LOST        = 43, // ours: the force channel is broken, or feels nothing at the stop
	CAUSE_TRAVEL_LOST       = 44, // ours: the travel channel is broken, or stands while the press is driven

	CAUSE_SPINDLE_FAST      = 45, // ours: the spindle turns above its limit, or backwards
	CAUSE_SPINDLE_ASKED     = 46, // ours: the spindle is asked for in contact where it has to stand
	CAUSE_HAND_FAST         = 47, // ours: hold-to-run moves faster than it may
	CAUSE_CHUCK             = 48, // ours: the chuck is not clamped while something moves

	CAUSE_FLOW_OFF          = 49, // a flow is not what is asked
	CAUSE_FLOW_OVER         = 50, // a flow is far above what is asked, or flows unasked
	CAUSE_RATIO             = 51, // oxygen to fuel outside its window (EN 746-2)
	CAUSE_SHARP_LONG        = 52, // ours: a sharp flame stood at the blank too long

	NUM_CAUSES              = 53,
};

// Reactions of each column, weakest first: causes combine by the greatest.
enum {
	GAS_KEEP         = 0,
	GAS_SEQUENCED    = 1, // oxygen, then fuel within off_ms
	GAS_SHUT         = 2, // both in one tick

	SPINDLE_KEEP     = 0,
	SPINDLE_TO_CREEP = 1,
	SPINDLE_TO_RAMP  = 2, // controlled stop, then power off
	SPINDLE_TO_OFF   = 3,

	PRESS_KEEP       = 0,
	PRESS_INHIBIT    = 1, // no new stroke
	PRESS_RETRACT    = 2, // open fully, if the safety door is closed
	PRESS_TO_STAY    = 3,
	PRESS_TO_EASE    = 4, // ramp force down within ease_ms, then stay
	PRESS_TO_PART    = 5, // ease, let the glass set for part_ms, then open slowly under the pull limit
	PRESS_TO_OFF     = 6,

	LOCK_NONE        = 0,
	LOCK_HOLD        = 1, // resumable by the host's reset and a new START
	LOCK_ABORT       = 2, // host's or local reset once its causes are gone
	LOCK_LOCKOUT     = 3, // local RESET edge only
};

// One row of the matrix, or the strongest of several.
typedef struct {
	uint8_t gas;
	uint8_t spindle;
	uint8_t above;   // press above contact
	uint8_t contact; // press in contact
	uint8_t lock;
} warden_reaction;

// What a cause does and how it ranks as a first cause.
typedef struct {
	warden_reaction reaction;
	uint8_t priority;         // 1 high, 2 medium, 3 low; 0 marks a number that is no cause of the warden
} warden_row;

// The pairs. Hold-to-run that could crush or wind up keeps, with the door open,
// the other hand on the left actuator of the two-hand control; opening frees,
// and one hand is enough for it.
enum {
	HANDS_STROKE = 0, // left and right
	HANDS_CLOSE  = 1, // hold-to-run close and left
	HANDS_TURN   = 2, // hold-to-run turn and left

	NUM_HANDS    = 3,
};

// One pair of actuators of a two-hand control after ISO 13851, type
// III: both pressed within hands_ms, given only while both are held, the next
// time only after both were released.
typedef struct {
	uint8_t ready; // both seen released since they were last used
	uint8_t given; // both held
	uint16_t ms;   // since the first of the two was pressed
} warden_hands;

// The gases.
enum {
	FLOW_FUEL   = 0,
	FLOW_OXYGEN = 1,

	NUM_FLOWS   = 2,
};

// What is remembered of one gas.
typedef struct {
	uint16_t low;      // asked in the present window, mL/min
	uint16_t high;
	uint16_t was_low;  // asked in the window before
	uint16_t was_high;
	uint16_t off_ms;
	uint16_t over_ms;
} warden_flow;

// All that the warden remembers, at most 256 bytes. Only warden_init and
// warden_step write it; everybody may read it.
typedef struct {
	// latch
	uint64_t present;              // causes true in this tick, bit 1 << cause
	uint64_t trips;                // causes latched since the last reset
	uint8_t first;                 // first cause of the trip, CAUSE_NONE without one
	uint8_t lock;                  // LOCK_...
	uint8_t gas;                   // reactions in force, the strongest of trips and present
	uint8_t spin;
	uint8_t above;
	uint8_t touch;

	// link
	uint8_t link;
	uint8_t armed;                 // 1 while START would count
	uint8_t started;               // 1 from START until the cycle ends or a trip voids it
	uint8_t wait;                  // 1 while motion and heat of the cycle wait for a new START
	uint16_t arm_id;               // arming in force or last used
	uint16_t used_arm_id;          // the arming that START consumed
	uint32_t arm_ms;               // since arming; while waiting, since START could count
	uint16_t lease_ms[NUM_LEASES]; // since last renewed, saturating
	uint16_t link_ms;              // since any accepted request, saturating
	uint32_t error_sum;            // leaky integer of bad frames
	int16_t window_low;            // press window taken at arming, clipped, 0.1 C
	int16_t window_hi;
	uint8_t start_seen;            // button seen released since arming
	uint8_t reset_seen;            // button seen released
	uint16_t start_ms;
	uint16_t reset_ms;

	// burner
	uint8_t burner;
	uint8_t lit_once;              // a trial has begun since the last START
	uint8_t oxygen;                // 1 while the oxygen valve is open
	uint32_t phase_ms;             // time in the burner phase, only while its condition holds
	uint16_t trial_ms;             // fuel-open time of this trial
	uint16_t flame_ms;             // unbroken flame, saturating
	uint16_t dark_ms;              // unbroken darkness, saturating
	uint16_t fuel_off_ms;          // since fuel was shut, saturating
	uint32_t park_ms;              // lit without a cycle
	uint32_t unburnt;              // invariant 3
	uint32_t run_ms;               // in run since this light-up
	uint32_t sharp_ms;             // sharp flame at the blank
	uint8_t saw_still;             // extraction switch seen in its rest position since fuel was last open
	uint16_t no_flow_ms;           // extraction not proven, or in check never seen at rest
	uint16_t switch_ms[4];         // pressure switches: fuel low, fuel high, oxygen low, oxygen high
	uint16_t feed_ms;
	uint16_t feed_ox_ms;
	uint16_t slide_ms;
	uint16_t clear_ms;             // burner proven clear, saturating
	uint16_t slide_sent;           // OUT_BURNER_IN as last sent
	uint8_t burner_was_open;       // the press was open while heating in the last tick
	uint16_t block_ms;             // burner wanted at the blank, or not clear, while the press is not open
	uint16_t nv_ms;                // non-volatile byte differs from what it should hold
	uint8_t nv;

	// press
	uint8_t press;
	uint8_t touching;              // 1 from contact until open again
	uint8_t homed;                 // open end switch seen since power-up
	uint8_t hold_seen;             // hold-to-run buttons seen released: bit 0 open, bit 1 close, bit 2 turn
	uint16_t soft_ms;              // since SOFT was pressed in this cycle, saturating
	uint16_t press_ms;             // opening
	uint16_t pull_ms;              // pulling at the limit
	uint16_t ease_dn;              // force limit during easing
	uint16_t stall_ms;             // spindle below its press state in contact
	uint16_t part_ms;              // since the halves wait to part

	// flows
	warden_flow flow[NUM_FLOWS];
	uint16_t flow_ms;              // of the present band
	uint16_t ratio_ms;             // ratio outside its window

	// what the press feels
	uint16_t force_lost_ms;        // force channel broken while the press moves or works
	uint16_t travel_lost_ms;       // travel channel broken while the press moves or works
	uint16_t unfelt_ms;            // pressing at the stop without any force
	uint16_t stand_ms;             // driven to close, and travel stands
	int16_t stand_cmm;             // where

	// what moves as nobody asked
	uint16_t fast_ms;              // spindle above its limit or backwards
	uint16_t chuck_ms;             // chuck not clamped while something moves
	uint16_t hand_ms;              // of the window in which hold-to-run is measured
	int16_t hand_from_cmm;         // travel at its beginning

	// two-hand control
	warden_hands hands[NUM_HANDS];
	uint8_t hand_stroke;           // a stroke with the door open is under way: two hands stand in for it

	// spindle
	uint8_t spindle;
	uint32_t spin_ms;
	uint16_t still_ms;
	uint16_t spin_set;             // set-point in force, 0.1 rpm

	// as driven in the last tick
	warden_output out;
} warden_state;

// The cause-and-effect matrix, by cause (causes.c).
extern const warden_row warden_matrix[NUM_CAUSES];

// The state of a microcontroller that has just started: everything off,
// nothing remembered but the non-volatile byte. Any byte but NV_CLEAR means
// that fuel may have been open or a lockout stood: lockout.
void warden_init(warden_state *s, uint8_t nv);

// The inputs that are filtered.
enum {
	NUM_FILTER = 8,
};

// The small machine in front of the others: it holds back what lasts too short to
// be meant. A button that bounces, or a relay contact that chatters while a motor
// starts, is no START and no trip. It runs once a tick before warden_step, which
// sees the filtered bits alone.
//
// Rows 13, 14 and 34 and the flame are not filtered: force, an end of travel and a
// released hand want the next tick, and the flame has its own time.
typedef struct {
	uint32_t bits;          // as passed on
	uint8_t primed;         // 1 once the first inputs were taken as they were
	uint8_t ms[NUM_FILTER]; // for how long each filtered input has differed
} warden_filter;

// One input that is filtered, and how long it has to differ.
typedef struct {
	uint32_t bit;
	uint8_t ms;
} warden_filtered;

// Advances the filter by one millisecond and puts the filtered bits into in.
void warden_step_filter(warden_filter *f, warden_input *in);

// Advances the machine by one millisecond. A state or an output that no step
// can make (decayed memory) is answered by lockout with everything off.
void warden_step(const warden_config *c, warden_state *s, const warden_input *in,
	warden_output *out);

// For the snapshot: the thermometer is to be believed in this tick; every
// permit to leave open holds; the value of state.unburnt that trips.
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool warden_view_free(const warden_config *c, const warden_state *s, const warden_input *in);
//@ requires \valid_read(c) && \valid_read(s) && \valid_read(in); assigns \nothing;
bool warden_may_stroke(const warden_config *c, const warden_state *s, const warden_input *in);
//@ requires \valid_read(c); assigns \nothing;
uint32_t warden_unburnt_limit(const warden_config *c);

#endif
