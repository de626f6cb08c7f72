// A hostile walk of everything portable: the core and hal/ put together as the
// board's main.c does it, fed with blocks, converter counts, encoder tracks,
// memory cells and bytes on the line that are half right, half random. It is
// compiled with checks for addresses and undefined behaviour, which end it;
// what it checks itself is that sizes hold and that nothing energises beyond
// what the one layer below was told.
//
//	hostile SEED STEPS < encoded configurations: one of quick times, a rig's
//
// It says what it came through, so that a test can see that it was no idle walk.
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../boards/mega2560/block.h"
#include "../core/wire_inside.h"
#include "../hal/fitting.h"
#include "../hal/limits.h"
#include "../hal/speaker.h"
#include "../hal/store.h"
#include "../hal/stroke.h"

static uint64_t random_state;

// SplitMix64 (Steele, Lea, Flood 2014; the constants are the published ones).
static uint32_t any32(void) {
	uint64_t z = random_state += UINT64_C(0x9E3779B97F4A7C15);
	z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
	z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
	return (uint32_t)((z ^ z >> 31) >> 32);
}

static uint32_t below(uint32_t n) { return (uint32_t)((uint64_t)any32() * n >> 32); }
static bool once_in(uint32_t n) { return below(n) == 0; }
static uint8_t any8(void) { return (uint8_t)any32(); }

static void bad(const char *what) {
	fprintf(stderr, "hostile: %s\n", what);
	exit(3);
}

// What was come through.
static struct {
	uint32_t steps, boots, fitted, within, accepted, corrupt, said, run, closing, homed, failed, torn;
} came;

// The block.
static uint8_t configs[2][WIRE_CONFIG_BYTES];
static uint8_t block[BLOCK_BYTES];

static uint8_t block_byte(uint16_t at) {
	if (at >= BLOCK_BYTES) {
		bad("a byte beyond the block is read");
	}
	return block[at];
}

static void set(uint16_t at, uint32_t v, uint8_t size) {
	for (uint8_t i = 0; i < size; i++) {
		block[at + i] = (uint8_t)(v >> 8 * i);
	}
}

static void good_block(void) {
	memset(block, 0, sizeof block);
	memcpy(block + BLOCK_CONFIG, configs[once_in(8)], WIRE_CONFIG_BYTES);
	for (uint16_t i = 0; i < NUM_ANALOG; i++) {
		uint16_t at = (uint16_t)(BLOCK_ANALOG + i * ANALOG_BYTES);
		set(at + ANALOG_LEAST, 172, 2);
		set(at + ANALOG_MOST, 945, 2);
		set(at + ANALOG_ZERO, i == AI_TRAVEL ? 0 : 180, 2);
		set(at + ANALOG_GAIN, i == AI_TRAVEL ? 4096 : 4096 * 10, 4);
	}
	for (uint16_t i = 0; i < NUM_SETPOINTS; i++) {
		set((uint16_t)(BLOCK_SETPOINTS + 4 * i), 65536, 4);
	}
}

static void make_block(void) {
	good_block();
	uint32_t bent = once_in(2) ? 0 : once_in(2) ? 1 + below(6) : 1 + below(BLOCK_CRC);
	for (uint32_t i = 0; i < bent; i++) {
		block[below(BLOCK_CRC)] = once_in(4) ? 0xFF : any8();
	}
	for (uint8_t i = 0; i < NUM_ANALOG && bent > 6; i++) { // a gain that is taken, or nearly
		set((uint16_t)(BLOCK_ANALOG + i * ANALOG_BYTES + ANALOG_GAIN), (uint32_t)((int32_t)any32() >> (13 + below(4))), 4);
	}
	memcpy(block, "PRG1", 4);
	set(BLOCK_LAYOUT, BLOCK_LAYOUT_2, 2);
	uint32_t crc = UINT32_MAX;
	for (uint16_t i = 0; i < BLOCK_CRC; i++) {
		crc = wire_crc(crc, block[i]);
	}
	set(BLOCK_CRC, ~crc ^ (once_in(16) ? any32() : 0), 4);
}

// The memory.
static uint8_t cells[STORE_CELLS];
static uint8_t busy;

static uint8_t cell(uint16_t at) { return cells[at]; }

static bool cells_busy(void) {
	busy = (uint8_t)(busy > 0 ? busy - 1 : 0);
	return busy > 0;
}

static void write_cell(uint16_t at, uint8_t byte) {
	came.torn += once_in(300);
	cells[at] = once_in(300) ? any8() : byte;
	busy = (uint8_t)below(4);
}

static const store_cells memory = {cell, cells_busy, write_cell};

static void make_cells(void) {
	for (uint32_t i = 0; i < STORE_CELLS; i++) {
		cells[i] = once_in(2) ? 0xFF : any8();
	}
	if (once_in(2)) {
		memset(cells, 0xFF, sizeof cells);
	}
}

// The board.
static fitting fitted;
static warden_config config;
static warden_filter filter;
static warden_state state;
static warden_input in;
static warden_output out;
static store kept;
static homing home;
static encoder press;
static wire_receiver receiver;
static speaker mouth;
static uint32_t now_ms, session;
static bool must_count;
static int32_t at_cmm; // the press
static const uint8_t gray[4] = {0, 1, 3, 2};
static uint32_t calm; // steps between two things that go wrong, of their kind

static void boot(void) {
	came.boots++;
	calm = once_in(2) ? 20000 : once_in(2) ? 1000 : 40;
	make_block();
	bool good = fitting_read(&fitted, block_byte);
	came.fitted += good;
	config = fitted.config;
	if (good) {
		came.within += limits_hold(&config);
	}
	store_open(&kept, &memory, NV_CLEAR);
	store_count_boot(&kept);
	session = kept.boots + 1u != 0 ? kept.boots + 1u : 1u;
	warden_init(&state, kept.nv);
	filter = (warden_filter){0};
	memset(&out, 0, sizeof out);
	memset(&in, 0, sizeof in);
	home = (homing){0};
	now_ms = once_in(4) ? UINT32_MAX - below(3000) : 0;
	at_cmm = once_in(2) ? 0 : (int32_t)below(200);
	encoder_start(&press, gray[(uint32_t)at_cmm & 3u]);
	wire_hello hello = {.config_hash = any32(), .fitted_in = config.fitted_in, .scale = 1};
	memcpy(hello.firmware, "hostile walk", 12);
	wire_start(&receiver, fitted.device, session);
	speaker_start(&mouth, fitted.device, session, &hello);
}

// The contacts as a rig would have them, and some that are not.
static void contacts(void) {
	static uint32_t flips;
	static bool lit;
	uint32_t b = IN_ESTOP_OK | IN_DOOR_CLOSED | IN_MAINS_OK | IN_CHUCK_CLAMPED | IN_INDEXED | IN_WATCHDOG_OK;
	b |= (out.bits & OUT_FAN) != 0 ? IN_EXTRACTION : 0;
	lit = (out.bits & OUT_FUEL) == OUT_FUEL && (lit || (out.bits & OUT_IGNITER) != 0) && !once_in(calm);
	b |= lit ? IN_FLAME : 0;
	b |= (out.bits & OUT_FUEL) == 0 ? IN_FUEL_SHUT : 0;
	b |= (out.bits & OUT_OXYGEN) == 0 ? IN_OXYGEN_SHUT : 0;
	b |= (out.bits & OUT_BURNER_IN) != 0 ? IN_BURNER_AT_BLANK : IN_BURNER_CLEAR;
	b |= at_cmm <= config.open_cmm ? IN_PRESS_OPEN : 0;
	b |= now_ms >> 8 & 1 ? IN_START : 0;
	b |= now_ms >> 9 & 1 ? IN_SOFT : 0;
	b |= (now_ms & 0xF00) == 0xF00 ? IN_RESET : 0;
	if (flips != 0 || once_in(calm / 4)) {
		flips = once_in(200) ? UINT32_C(1) << below(30) : once_in(800) ? any32() : once_in(60) ? 0 : flips;
	}
	in.bits = (b ^ flips) & config.fitted_in;
}

// What a channel reads where all goes well, with its scaling of good_block.
static uint32_t usual(uint8_t ai) {
	switch (ai) {
	case AI_GLASS:
		return 900; // 720 C, in the window
	case AI_FUEL_FLOW:
		return 180 + ((out.bits & OUT_FUEL) != 0 ? out.fuel_ml : 0) / 10u;
	case AI_OXYGEN_FLOW:
		return 180 + ((out.bits & OUT_OXYGEN) != 0 ? out.oxygen_ml : 0) / 10u;
	case AI_SPINDLE:
		return 180 + out.spindle_drpm / 10u;
	case AI_FORCE:
		return 180 + (at_cmm > 3500 ? below(20) : 0);
	default:
		return 200;
	}
}

static void analog(void) {
	for (uint8_t ai = 0; ai < NUM_ANALOG; ai++) {
		const fitting_analog *a = &fitted.analog[ai];
		if (ai == AI_TRAVEL) {
			continue;
		}
		uint16_t counts = (uint16_t)(once_in(calm) ? below(1024) : usual(ai));
		if (counts < a->least || counts > a->most) {
			in.analog_ok &= (uint16_t)~(1u << ai);
			continue;
		}
		in.analog[ai] = fitting_value(a, counts);
		in.analog_ok |= (uint16_t)(1u << ai);
	}
	in.glass_age_ms = (uint16_t)((in.analog_ok & 1u << AI_GLASS) != 0 ? 0 : in.glass_age_ms + (in.glass_age_ms < UINT16_MAX));
}

static void travel(void) {
	uint16_t speed = stroke_speed(&out, in.analog[AI_TRAVEL], (in.analog_ok & 1u << AI_TRAVEL) != 0);
	if (speed > out.speed_cmms) {
		bad("the drive is given more than the warden's speed");
	}
	must_count = state.touching == 0 && stroke_must_count(&out, speed, in.analog[AI_TRAVEL]);
	int32_t by = (int32_t)below(2 + speed / 1000u);
	by = (out.bits & OUT_PRESS_CLOSE) != 0 ? by : (out.bits & OUT_PRESS_OPEN) != 0 && at_cmm > 0 ? -by : 0;
	int32_t from = at_cmm;
	at_cmm += by;
	for (; from != at_cmm; from += by > 0 ? 1 : -1) {
		encoder_step(&press, gray[(uint32_t)(from + (by > 0 ? 1 : -1)) & 3u]);
	}
	if (once_in(20 * calm)) {
		encoder_step(&press, any8());
	}
	if (once_in(20 * calm)) {
		press.counts = (int16_t)(once_in(2) ? UINT32_C(0x7FFF) - below(3) : any32());
	}
	homing_watch(&home, &press, must_count);
	bool open = (in.bits & IN_PRESS_OPEN) != 0;
	bool believed = homing_step(&home, &press, open, fitting_travel(&fitted.analog[AI_TRAVEL], press.counts), config.open_cmm);
	if (believed && (!home.known || home.failed)) {
		bad("travel is believed that failed");
	}
	in.analog[AI_TRAVEL] = home.travel_cmm;
	in.analog_ok = (uint16_t)((in.analog_ok & ~(1u << AI_TRAVEL)) | (believed ? 1u << AI_TRAVEL : 0));
	in.analog_ok &= config.fitted_analog;
	came.homed += home.placed;
	came.failed += home.failed;
}

// The line.
static uint16_t host_seq;
static uint8_t sending[2 * WIRE_MAX_ENCODED];
static uint16_t sending_n, sent;

static void frame_of(uint8_t class, const uint8_t *payload, uint8_t n) {
	uint8_t f[WIRE_MAX_FRAME];
	uint32_t own = class == WIRE_HELLO_REQUEST ? 0 : session;
	uint32_t host = UINT32_C(77) + (calm < 20000 ? now_ms >> 14 : 0);
	host_seq++;
	uint8_t head[WIRE_HEADER_BYTES] = {WIRE_VERSION, class, (uint8_t)fitted.device, (uint8_t)(fitted.device >> 8),
		(uint8_t)own, (uint8_t)(own >> 8), (uint8_t)(own >> 16), (uint8_t)(own >> 24), (uint8_t)host, (uint8_t)(host >> 8),
		(uint8_t)(host >> 16), (uint8_t)(host >> 24), (uint8_t)host_seq, (uint8_t)(host_seq >> 8), n};
	memcpy(f, head, sizeof head);
	memcpy(f + sizeof head, payload, n);
	if (once_in(calm / 4)) { // the checksum will fit
		f[below(sizeof head + n)] = any8();
	}
	uint8_t size = (uint8_t)(sizeof head + n);
	uint32_t crc = wire_checksum('H', f, size);
	for (uint8_t i = 0; i < WIRE_CRC_BYTES; i++, size++) {
		f[size] = (uint8_t)(crc >> 8 * i);
	}
	sending_n = sent = 0;
	uint16_t code = sending_n++;
	sending[code] = 1;
	for (uint8_t i = 0; i < size; i++) {
		if (f[i] != 0) {
			sending[sending_n++] = f[i];
			sending[code]++;
		} else {
			code = sending_n++;
			sending[code] = 1;
		}
	}
	sending[sending_n++] = 0;
}

static void request(void) {
	uint8_t p[32];
	for (uint8_t i = 0; i < sizeof p; i++) {
		p[i] = once_in(calm / 4) ? any8() : i % 2 == 0 ? any8() : (uint8_t)(now_ms >> 13 & 1);
	}
	uint32_t echo = now_ms - below(once_in(calm) ? 400 : 100);
	for (uint8_t i = 0; i < 4; i++) {
		p[i] = (uint8_t)(echo >> 8 * i);
	}
	bool stroke = (now_ms >> 12 & 1) != 0; // heats, then presses
	uint16_t asks = REQ_ARM | REQ_CYCLE | REQ_ESTIMATE;
	asks = (uint16_t)(asks | (stroke ? 0 : REQ_FLAME) | (!stroke && (now_ms >> 10 & 1) != 0 ? REQ_OXYGEN | REQ_BURNER_IN : 0) | (once_in(calm) ? 1u << below(10) : 0));
	p[4] = (uint8_t)(once_in(calm) ? any8() : 15);
	p[5] = (uint8_t)(stroke ? 1 + (now_ms >> 10 & 3) % 3 : now_ms >> 11 & 3);
	p[6] = (uint8_t)asks;
	p[7] = (uint8_t)(asks >> 8);
	p[8] = (uint8_t)(now_ms >> 15), p[9] = 1;
	uint16_t turns = (config.options & OPT_SPINDLE_TURNS) != 0 ? 500 : stroke ? 0 : 200;
	p[14] = (uint8_t)turns, p[15] = (uint8_t)(turns >> 8);
	p[16] = 0, p[17] = 16; // 40.96 mm
	p[22] = 0, p[23] = 0x80, p[24] = 0xFF, p[25] = 0x7F;
	frame_of(WIRE_REQUEST, p, sizeof p);
}

static void host(void) {
	uint8_t p[200];
	if (sent < sending_n) {
		return;
	}
	switch (below(12) * (calm > 1000 && receiver.peer != 0 && !once_in(calm / 8) ? 12 : 1)) {
	case 0:
		frame_of(WIRE_HELLO_REQUEST, p, 0);
		break;
	case 1:
		p[0] = any8();
		frame_of(WIRE_PARAMETERS_REQUEST, p, 1);
		break;
	case 2:
		for (uint8_t i = 0; i < sizeof p; i++) {
			p[i] = any8();
		}
		frame_of(any8(), p, (uint8_t)below(sizeof p));
		break;
	default:
		request();
		break;
	}
}

static void listen(void) {
	static wire_frame f;
	host();
	for (uint8_t i = 0; i < 25; i++) {
		if (sent >= sending_n && !once_in(calm)) {
			return;
		}
		uint8_t byte = sent < sending_n ? sending[sent++] : any8();
		byte = once_in(50 * calm) ? any8() : byte;
		uint8_t verdict = wire_receive(&receiver, byte, now_ms, &f);
		in.bad_frames = (uint8_t)(in.bad_frames + (verdict == WIRE_CORRUPT || verdict == WIRE_BAD_VALUE));
		came.corrupt += verdict == WIRE_CORRUPT;
		if (verdict != WIRE_ACCEPTED) {
			continue;
		}
		came.accepted++;
		in.new_session = f.new_session;
		if (f.class == WIRE_REQUEST) {
			in.request = f.want;
			in.fresh = 1;
		}
		speaker_hear(&mouth, &f);
	}
}

static void speak(void) {
	static wire_line line;
	for (uint32_t n = once_in(500) ? below(2 * SPEAKER_EVENTS) : 0; n > 0; n--) {
		speaker_tell(&mouth, (uint16_t)(1 + below(6)), any32(), now_ms);
	}
	if (now_ms & 7) {
		speaker_other(&mouth, &line, receiver.peer, now_ms, &config);
	} else {
		speaker_view v = {.stamp_ms = now_ms, .in = in, .out = out, .state = state};
		speaker_snapshot(&mouth, &line, receiver.peer, &v);
	}
	if (line.n > WIRE_LINE_BYTES) {
		bad("a line is longer than its bytes");
	}
	came.said += line.n > 0;
}

static void step(void) {
	came.steps++;
	now_ms++;
	in.fresh = in.new_session = in.bad_frames = 0;
	contacts();
	analog();
	travel();
	listen();
	in.nv = kept.nv;
	if (once_in(calm)) { // memory that an error has changed
		((uint8_t *)&state)[below(sizeof state)] ^= (uint8_t)(1u << below(8));
	}
	warden_step_filter(&filter, &in);
	warden_step(&config, &state, &in, &out);
	for (uint8_t i = 0; i < NUM_SETPOINTS; i++) {
		if (fitting_steps(fitted.setpoints[i], (uint16_t)any32()) > 16000 || fitting_steps(fitted.setpoints[i], 0) != 0) {
			bad("a pulse is wider than full");
		}
	}
	(void)fitting_steps(fitted.setpoints[0], out.fuel_ml);
	store_step(&kept, &memory, out.nv);
	if (kept.slot >= STORE_SLOTS) {
		bad("a slot beyond the memory");
	}
	(void)warden_view_free(&config, &state, &in);
	(void)warden_may_stroke(&config, &state, &in);
	speak();
	came.run += state.burner == BURNER_RUN;
	came.closing += state.press == PRESS_CLOSING;
}

int main(int argc, char **argv) {
	if (argc != 3 || fread(configs, 1, sizeof configs, stdin) != sizeof configs) {
		bad("hostile SEED STEPS, two encoded configurations on stdin");
	}
	random_state = strtoull(argv[1], NULL, 10);
	uint32_t steps = (uint32_t)strtoul(argv[2], NULL, 10);
	make_cells();
	while (came.steps < steps) {
		if (once_in(50)) {
			make_cells();
		}
		boot();
		for (uint32_t n = 1 + below(once_in(4) ? 60 : 12000); n > 0 && came.steps < steps; n--) {
			step();
		}
	}
	printf("steps %u boots %u fitted %u within %u accepted %u corrupt %u said %u run %u closing %u homed %u failed %u torn %u\n",
		came.steps, came.boots, came.fitted, came.within, came.accepted, came.corrupt, came.said, came.run, came.closing,
		came.homed, came.failed, came.torn);
	return 0;
}
