// The pins, as boards/mega2560/pins.h lists them. GPL-3, see board.h.
#include "board.h"

#include "../../boards/mega2560/pins.h"
#include "../../core/warden.h"
#include <simavr/avr_adc.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <stddef.h>

typedef struct {
	uint32_t bit;
	char port;
	uint8_t pin;
	uint8_t inverted;
} wire;

#define WIRE(bit, port, pin, board, way) {bit, #port[0], pin, way},
static const wire inputs[] = {INPUT_PINS(WIRE)};
static const wire outputs[] = {OUTPUT_PINS(WIRE)};
enum { PULSE = 0 };
static const wire pulse[] = {PULSE_PIN(WIRE)};
enum { NUM_INPUTS = sizeof inputs / sizeof *inputs, NUM_OUTPUTS = sizeof outputs / sizeof *outputs };

#define TRACK(name, port, pin, board) {0, #port[0], pin, DIRECT},
static const wire tracks[] = {ENCODER_PINS(TRACK)};

#define CHANNEL(ai, channel, board) {ai, channel},
static const uint8_t channels[][2] = {ANALOG_PINS(CHANNEL)};

// Data addresses of the compare registers, ATmega2560 data sheet, register
// summary.
enum { OCR3A = 0x98, OCR3B = 0x9A, OCR3C = 0x9C, OCR4A = 0xA8, OCR4B = 0xAA, OCR4C = 0xAC };
#define SETPOINT(name, reg, port, pin, board) {reg, #port[0], pin, DIRECT},
static const wire setpoints[] = {SETPOINT_PINS(SETPOINT)};

static uint32_t inputs_now;       // as driven
static uint16_t millivolts[NUM_CHANNELS];
static int32_t encoder_now, encoder_goal;
static uint8_t dead;
static avr_cycle_count_t encoder_period;
static uint16_t high;
static uint16_t pulses;

// Data address of PINx; DDRx and PORTx follow.
static uint16_t port_at(char port) {
	static const uint16_t upper[] = {0x100, 0, 0x103, 0x106, 0x109}; // H, J, K, L
	return port < 'H' ? (uint16_t)(0x20 + 3 * (port - 'A')) : upper[port - 'H'];
}

static bool driven_high(const wire *w) {
	uint16_t at = port_at(w->port);
	return (avr->data[at + 1] & avr->data[at + 2]) >> w->pin & 1;
}

static uint16_t levels(void) {
	uint16_t bits = 0;
	for (int i = 0; i < NUM_OUTPUTS; i++) {
		if (driven_high(&outputs[i]) != outputs[i].inverted) {
			bits |= (uint16_t)outputs[i].bit;
		}
	}
	return bits;
}

static avr_irq_t *pin_irq(const wire *w) {
	return avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(w->port), w->pin);
}

static void set_pin(const wire *w, bool level) {
	uint16_t at = port_at(w->port);
	avr_raise_irq(pin_irq(w), level);
	avr->data[at] = (uint8_t)((avr->data[at] & ~(1 << w->pin)) | level << w->pin);
}

static void on_output(avr_irq_t *irq, uint32_t level, void *which) {
	(void)irq, (void)level, (void)which;
	high |= levels();
}

static void on_pulse(avr_irq_t *irq, uint32_t level, void *which) {
	(void)irq, (void)level, (void)which;
	pulses++;
}

static void set_tracks(void) {
	static const uint8_t a[] = {0, 1, 1, 0}, b[] = {0, 0, 1, 1}; // A leads while closing
	if ((dead & 1) == 0) {
		set_pin(&tracks[0], a[encoder_now & 3]);
	}
	if ((dead & 2) == 0) {
		set_pin(&tracks[1], b[encoder_now & 3]);
	}
}

static avr_cycle_count_t on_edge(avr_t *mcu, avr_cycle_count_t when, void *unused) {
	(void)mcu, (void)unused;
	if (encoder_now == encoder_goal) {
		return 0;
	}
	encoder_now += encoder_now < encoder_goal ? 1 : -1;
	set_tracks();
	return encoder_now == encoder_goal ? 0 : when + encoder_period;
}

// The press moves to counts within this millisecond, edge by edge; no faster
// than the program can be asked to count.
void encoder_to(int32_t counts, uint8_t dead_tracks) {
	enum { MOST_EDGES = 200 };
	dead = dead_tracks;
	int32_t way = counts - encoder_now;
	way = way > MOST_EDGES ? MOST_EDGES : way < -MOST_EDGES ? -MOST_EDGES : way;
	encoder_goal = encoder_now + way;
	if (way != 0) {
		encoder_period = (avr_cycle_count_t)(CYCLES_PER_MS / ((way < 0 ? -way : way) + 1));
		avr_cycle_timer_register(avr, encoder_period, on_edge, NULL);
	}
}

static void set_channel(uint8_t channel, uint16_t mv) {
	int irq = channel < 8 ? ADC_IRQ_ADC0 + channel : ADC_IRQ_TEMP; // see wires_make
	avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, irq), mv);
}

void wires_make(void) {
	for (int i = 0; i < NUM_OUTPUTS; i++) {
		avr_irq_register_notify(pin_irq(&outputs[i]), on_output, NULL);
	}
	avr_irq_register_notify(pin_irq(&pulse[0]), on_pulse, NULL);
	// This emulator keeps values of channels 0 to 7 only; channel 8 goes by way
	// of the temperature sensor, which an ATmega2560 does not have.
	avr_adc_t *adc = peripheral("adc");
	adc->muxmode[32].kind = ADC_MUX_TEMP;
}

void wires_forget(void) {
	// A low pin would poll for its level for ever, whatever is set up later.
	for (uint8_t i = 0; i < 8; i++) {
		avr_extint_set_strict_lvl_trig(avr, i, 0);
	}
	for (int port = 'A'; port <= 'L'; port++) {
		for (int pin = 0; port != 'I' && pin < 8; pin++) { // edges are counted from low again
			avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), pin)->value = 0;
		}
	}
	for (int i = 0; i < NUM_INPUTS; i++) {
		set_pin(&inputs[i], ((inputs_now & inputs[i].bit) != 0) != inputs[i].inverted);
	}
	set_tracks();
}

void wires_in(const step_input *in) {
	for (int i = 0; i < NUM_INPUTS; i++) {
		if ((inputs_now ^ in->in_bits) & inputs[i].bit) {
			set_pin(&inputs[i], ((in->in_bits & inputs[i].bit) != 0) != inputs[i].inverted);
		}
	}
	inputs_now = in->in_bits;
	for (unsigned i = 0; i < sizeof channels / sizeof *channels; i++) {
		uint8_t ai = channels[i][0];
		if (millivolts[ai] != in->millivolts[ai]) {
			millivolts[ai] = in->millivolts[ai];
			set_channel(channels[i][1], millivolts[ai]);
		}
	}
}

void wires_begin(void) {
	high = levels();
	pulses = 0;
}

// Width of a set-point's pulse in steps of a 16,000th: non-inverting PWM of
// timer 3 or 4, or a pin that stands.
static uint16_t width(const wire *w) {
	uint16_t timer = (uint16_t)(w->bit & 0xF0), channel = (uint16_t)((w->bit & 0xF) - 8) / 2;
	const uint8_t *reg = avr->data + timer;
	uint8_t mode = reg[0] >> (6 - 2 * channel) & 3;
	if (mode == 0 || !(avr->data[port_at(w->port) + 1] >> w->pin & 1)) {
		return driven_high(w) ? 16000 : 0;
	}
	uint32_t top = (uint32_t)(reg[6] | reg[7] << 8) + 1;
	uint32_t compare = (uint32_t)(avr->data[w->bit] | avr->data[w->bit + 1] << 8) + 1;
	return (uint16_t)((compare > top ? top : compare) * 16000 / top);
}

void wires_out(step_output *out) {
	out->level = levels();
	out->high = high | out->level;
	out->pulses = pulses;
	for (int i = 0; i < NUM_SETPOINTS; i++) {
		out->steps[i] = width(&setpoints[i]);
	}
}
