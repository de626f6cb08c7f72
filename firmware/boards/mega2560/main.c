#include "board.h"
#include "block.h"

#include "../../core/wire_inside.h"
#include "../../hal/limits.h"
#include "../../hal/speaker.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/atomic.h>

#ifndef FIRMWARE_VERSION
#define FIRMWARE_VERSION "0.1"
#endif

// What the emulator's tests look at from outside.
warden_config guard_config;
warden_state guard_state;
warden_input guard_input;
static warden_filter guard_filter;
warden_output guard_output;
volatile uint32_t clock_ms; // since the outputs may be driven, wraps

static fitting fitted;
static store kept;
static homing home;
static bool must_count; // the encoder, since the drive was given its speed
static wire_receiver receiver;
static speaker mouth;
static uint8_t start_state; // START_...
static uint8_t kept_failures;
static uint64_t trips_before;

// From the background to the millisecond, with interrupts off.
static struct {
	warden_request want;
	uint16_t seq;
	uint8_t fresh;
	uint8_t new_session;
	uint8_t bad;
} heard;

static uint16_t echo_seq;
static volatile uint8_t in_millisecond, done; // done counts milliseconds, wraps
static volatile uint8_t late_for;                   // ms until another one may be late
static volatile uint8_t late_count, late_took;      // wraps; the newest one's time beyond its millisecond, 16 us
static volatile uint8_t off_path;                   // the outputs do not follow, ms

enum {
	// A millisecond that runs into the next one costs that one: all times of the
	// warden are then longer than they say. One in so many is 1 % of them, a
	// tenth of what the window of the watchdog outside allows a clock.
	LATE_EVERY  = 100,
	STRAY_MOST  = 3, // ms that an output may read back otherwise
	MOST_SLICE  = 40, // bytes judged in one turn of the background
};

void end_safely(uint16_t because) {
	cli();
	pins_all_off();
	ended_because = because;
	for (;;) { // the watchdog ends this
	}
}

// The inputs of this millisecond. A converter that is stuck is a broken wire of
// every signal.
static void __attribute__((noinline)) read_inputs(warden_input *in) {
	in->bits = pins_inputs() & guard_config.fitted_in;
	bool works = converter_works();
	uint16_t bit = 1;
	for (uint8_t ai = 0; ai < NUM_ANALOG; ai++, bit <<= 1) {
		if (ai == AI_TRAVEL || (works && !converter_new(ai))) {
			continue;
		}
		const fitting_analog *a = &fitted.analog[ai];
		uint16_t counts = converter_counts(ai);
		if (works && counts >= a->least && counts <= a->most) {
			in->analog[ai] = fitting_value(a, counts);
			in->analog_ok |= bit;
		} else {
			in->analog_ok &= (uint16_t)~bit;
		}
	}
	converter_begin();
	if ((in->analog_ok & 1u << AI_GLASS) != 0) {
		in->glass_age_ms = 0;
	} else if (in->glass_age_ms < UINT16_MAX) {
		in->glass_age_ms++;
	}
}

static void __attribute__((noinline)) read_travel(warden_input *in) {
	encoder e = travel_now();
	int16_t counted = fitting_travel(&fitted.analog[AI_TRAVEL], e.counts);
	homing_watch(&home, &e, must_count);
	bool believed = homing_step(&home, &e, (in->bits & IN_PRESS_OPEN) != 0, counted, guard_config.open_cmm);
	in->analog[AI_TRAVEL] = home.travel_cmm;
	if (believed) {
		in->analog_ok |= 1u << AI_TRAVEL;
	} else {
		in->analog_ok &= (uint16_t)~(1u << AI_TRAVEL);
	}
}

static void take_heard(warden_input *in) {
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
		in->fresh = heard.fresh;
		in->new_session = heard.new_session;
		in->bad_frames = heard.bad;
		if (heard.fresh != 0) {
			in->request = heard.want;
			echo_seq = heard.seq;
		}
		heard.fresh = heard.new_session = heard.bad = 0;
	}
}

// The press's speed, and whether it must show in the encoder.
static uint16_t __attribute__((noinline)) press_speed(const warden_input *in) {
	int16_t travel = in->analog[AI_TRAVEL];
	uint16_t speed = stroke_speed(&guard_output, travel, (in->analog_ok & 1u << AI_TRAVEL) != 0);
	must_count = guard_state.touching == 0 && (in->bits & IN_PRESS_OPEN) == 0 &&
		stroke_must_count(&guard_output, speed, travel);
	return speed;
}

// All of one millisecond, from pins to pins.
void __attribute__((noinline)) millisecond(void) {
	warden_input *in = &guard_input;
	clock_ms++;
	off_path = pins_follow() ? 0 : (uint8_t)(off_path + 1);
	if (off_path >= STRAY_MOST) {
		end_safely(ENDED_OUTPUT);
	}
	read_inputs(in);
	read_travel(in);
	in->analog_ok &= guard_config.fitted_analog;
	take_heard(in);
	in->nv = kept.nv;
	warden_step_filter(&guard_filter, in);
	warden_step(&guard_config, &guard_state, in, &guard_output);
	pins_drive(guard_output.bits);
	pins_set(&fitted, &guard_output, press_speed(in));
	store_step(&kept, &eeprom_cells, guard_output.nv);
}

// 1 kHz. Interrupts are on again while the millisecond runs; one that is entered
// while the last still runs is lost. It is counted and told, and a second one
// within LATE_EVERY, or in the same millisecond, ends the program.
ISR(TIMER1_COMPA_vect, ISR_NOBLOCK) {
	if (in_millisecond != 0) {
		if (late_for != 0) {
			end_safely(ENDED_OVERRUN);
		}
		late_for = LATE_EVERY;
		return;
	}
	in_millisecond = 1;
	millisecond();
	if (late_for == LATE_EVERY) {
		late_took = (uint8_t)(TCNT1 >> 8);
		late_count++;
	}
	if (late_for != 0) {
		late_for--;
	}
	done++;
	in_millisecond = 0;
}

// Judges received bytes, a bounded number a turn.
static void listen(void) {
	uint8_t byte;
	static wire_frame frame;
	for (uint8_t i = 0; i < MOST_SLICE && line_take(&byte); i++) {
		uint32_t now;
		ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = clock_ms; }
		uint8_t verdict = wire_receive(&receiver, byte, now, &frame);
		if (verdict == WIRE_CORRUPT || verdict == WIRE_BAD_VALUE) {
			ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { heard.bad = (uint8_t)(heard.bad < UINT8_MAX ? heard.bad + 1 : UINT8_MAX); }
		}
		if (verdict != WIRE_ACCEPTED) {
			continue;
		}
		ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
			if (frame.new_session) {
				heard.new_session = 1;
				heard.fresh = 0;
			}
			if (frame.class == WIRE_REQUEST) {
				heard.want = frame.want;
				heard.seq = frame.header.seq;
				heard.fresh = 1;
			}
		}
		speaker_hear(&mouth, &frame);
	}
}

// A copy of one whole millisecond: taken again when one came in between.
static bool view(speaker_view *v) {
	for (uint8_t i = 0; i < 3; i++) {
		uint8_t before = done;
		v->in = guard_input;
		v->out = guard_output;
		v->state = guard_state;
		v->echo_seq = echo_seq;
		ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { v->stamp_ms = clock_ms; }
		if (done == before && in_millisecond == 0) {
			return true;
		}
	}
	return false;
}

static uint16_t flags_of(const speaker_view *v) {
	uint16_t f = 0;
	f |= warden_view_free(&guard_config, &v->state, &v->in) ? 1u << 0 : 0u;
	f |= v->state.homed != 0 ? 1u << 1 : 0u;
	f |= v->state.touching != 0 ? 1u << 2 : 0u;
	f |= warden_may_stroke(&guard_config, &v->state, &v->in) ? 1u << 3 : 0u;
	return f;
}

static void say_snapshot(void) {
	static speaker_view v;
	static wire_line line;
	if (!view(&v)) {
		return; // the next one comes in 10 ms
	}
	v.flags = flags_of(&v);
	v.bad_frames = (uint16_t)(receiver.counts[WIRE_CORRUPT] + receiver.counts[WIRE_BAD_VALUE]);
	v.gaps = (uint16_t)receiver.gaps;
	speaker_snapshot(&mouth, &line, receiver.peer, &v);
	(void)line_send(&line); // dropped whole when the way out is full
}

static void say_other(uint32_t now) {
	static wire_line line;
	if (line_idle()) {
		speaker_other(&mouth, &line, receiver.peer, now, &guard_config);
		(void)line_send(&line);
	}
}

// Trips and their resets, what memory does, and the stack.
static void notice(uint32_t now) {
	static uint16_t least = UINT16_MAX;
	uint64_t trips;
	uint8_t first;
	bool local;
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
		trips = guard_state.trips;
		first = guard_state.first;
		local = (guard_input.bits & IN_RESET) != 0;
	}
	if (trips != 0 && trips_before == 0) {
		speaker_tell(&mouth, WIRE_EVENT_TRIP, first, now);
	} else if (trips == 0 && trips_before != 0) {
		speaker_tell(&mouth, WIRE_EVENT_RESET, local ? 1 : 2, now);
	}
	trips_before = trips;
	if (kept.failures != kept_failures) {
		kept_failures = kept.failures;
		speaker_tell(&mouth, WIRE_EVENT_STORAGE, kept.failed_at, now);
	}
	static uint8_t late_told;
	if (late_count != late_told) {
		late_told = late_count;
		speaker_tell(&mouth, WIRE_EVENT_OVERRUN, 1000u + ((uint16_t)late_took << 4), now);
	}
	uint16_t free = start_free_stack();
	if (free != 0 && free < least) {
		least = free;
		speaker_tell(&mouth, WIRE_EVENT_MEMORY, free, now);
	}
}

// One turn of the background.
static void turn(void) {
	static uint8_t seen;
	uint32_t now;
	listen();
	if (done == seen) {
		return;
	}
	seen = done;  // the millisecond has reported, and so does this turn:
	wdt_reset();  // the one place that feeds the watchdog while running,
	pins_pulse(); // and the one outside
	ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = clock_ms; }
	static uint8_t to_snapshot = SPEAKER_SNAPSHOT_MS;
	static uint16_t to_hello = SPEAKER_HELLO_MS;
	notice(now);
	to_hello--;
	if (to_hello == 0) {
		to_hello = SPEAKER_HELLO_MS;
		mouth.hello_due = mouth.hello_due || receiver.peer == 0;
	}
	to_snapshot--;
	if (to_snapshot == 0) {
		to_snapshot = SPEAKER_SNAPSHOT_MS;
		if (receiver.peer != 0) {
			say_snapshot();
		}
		return;
	}
	say_other(now);
}

// The firmware's name: board, version, and the program's checksum in hex, or
// what is wrong.
static void name(uint8_t *out) {
	static const char *const names[] = {
		"mega2560 " FIRMWARE_VERSION " ", "mega2560 not fitted", "mega2560 broken flash",
		"mega2560 bad limits", "mega2560 output stuck", "mega2560 no watchdog"};
	uint8_t n = 0;
	for (const char *c = names[start_state]; *c != 0 && n < WIRE_FIRMWARE_BYTES; c++) {
		out[n] = (uint8_t)*c;
		n++;
	}
	for (uint8_t i = 0; start_state == START_GOOD && i < 8 && n < WIRE_FIRMWARE_BYTES; i++) {
		uint8_t digit = (uint8_t)(fitted.program >> (28 - 4 * i) & 15u);
		out[n] = (uint8_t)(digit < 10 ? '0' + digit : 'a' + digit - 10);
		n++;
	}
}

// Proves what can be proven with the outputs still off.
static uint8_t prove(void) {
	if (!start_watchdog_bites()) {
		return START_NO_WATCHDOG;
	}
	if (!fitting_read(&fitted, block_byte)) {
		return START_NOT_FITTED;
	}
	if (!start_flash_whole(&fitted)) {
		return START_BROKEN_FLASH;
	}
	if (!limits_hold(&fitted.config)) {
		return START_LIMITS;
	}
	return pins_read_off() ? START_GOOD : START_OUTPUT_STUCK;
}

// What comes in meanwhile is for nobody.
static void discard(void) {
	uint8_t byte;
	for (uint8_t i = 0; i < MOST_SLICE && line_take(&byte); i++) {
	}
}

// Whoever failed a proof never drives an output: it only says so, once a second.
static void stay_off(void) __attribute__((noreturn));
static void stay_off(void) {
	static wire_line line;
	uint16_t ms = 0;
	uint32_t now = 0;
	TIMSK1 = 0;
	sei();
	for (;;) {
		wdt_reset();
		if ((TIFR1 & 1 << OCF1A) == 0) {
			continue;
		}
		TIFR1 = 1 << OCF1A;
		now++;
		ms++;
		discard();
		if (ms >= SPEAKER_HELLO_MS) {
			ms = 0;
			mouth.hello_due = true;
			speaker_other(&mouth, &line, 0, now, &guard_config);
			(void)line_send(&line);
		}
	}
}

// The hash that hello says: of the configuration and of the scaling behind it,
// as they stand in the block.
static uint32_t block_hash(void) {
	uint32_t crc = UINT32_MAX;
	for (uint16_t at = BLOCK_CONFIG; at < BLOCK_CRC; at++) {
		crc = wire_crc(crc, block_byte(at));
	}
	return ~crc;
}

static void start(void) {
	pins_start();
	start_state = prove();
	guard_config = fitted.config;
	store_open(&kept, &eeprom_cells, NV_CLEAR);
	store_count_boot(&kept);
	uint32_t session = kept.boots + 1u != 0 ? kept.boots + 1u : 1u;
	warden_init(&guard_state, kept.nv);
	trips_before = guard_state.trips;
	guard_input.nv = kept.nv;
	guard_input.glass_age_ms = UINT16_MAX;
	wire_hello hello = {.config_hash = block_hash(), .fitted_in = guard_config.fitted_in,
		.fitted_analog = guard_config.fitted_analog, .scale = 1};
	name(hello.firmware);
	wire_start(&receiver, fitted.device, session);
	speaker_start(&mouth, fitted.device, session, &hello);
	speaker_tell(&mouth, WIRE_EVENT_BOOT, start_cause() & 15u, 0);
	if (ended_because == ENDED_OVERRUN) {
		speaker_tell(&mouth, WIRE_EVENT_OVERRUN, 2000, 0);
	}
	ended_because = 0;
	line_start();
	converter_start();
	travel_start();
	TCCR1A = 0;
	OCR1A = 15999;
	TCCR1B = 1 << WGM12 | 1 << CS10;
}

int main(void) {
	start();
	if (start_state != START_GOOD) {
		stay_off();
	}
	TIFR1 = 1 << OCF1A;
	TIMSK1 = 1 << OCIE1A;
	SMCR = 0; // idle: everything goes on but the processor
	wdt_enable(WDTO_15MS);
	wdt_reset();
	sei();
	for (;;) {
		turn();
		sleep_mode(); // until the next interrupt, at the latest the next millisecond
	}
}
