// The processor, its serial line and its time. GPL-3, see board.h.
#include "board.h"

#include <simavr/avr_uart.h>
#include <simavr/avr_watchdog.h>
#include <stdio.h>
#include <string.h>

// Data addresses, ATmega2560 data sheet, register summary.
enum { MCUSR = 0x54, UCSR0A = 0xC0, UBRR0L = 0xC4, UBRR0H = 0xC5, U2X0 = 1 << 1 };
enum { WDTCSR = 0x60, PRESCALER = 0x27 };
enum { WATCHDOG_RESET = 1 << 3 };
// The last word of flash, never programmed: where a program that hangs, hangs.
enum { NOWHERE = 0x3FFFE };

avr_t *avr;
uint8_t captured[MAX_CAPTURES * CAPTURE_BYTES];
uint16_t capture_bytes;

static avr_uart_t *uart;
static avr_irq_t *uart_in;
static uint16_t arriving[RX_QUEUE];
static uint32_t arriving_first, arriving_count;
static uint8_t sent[TX_MOST];
static uint16_t sent_count;
static uint32_t overruns;

static bool powered, crashed, held;
static avr_cycle_count_t goal; // cycle at which the current step ends
static uint32_t clock_percent = 100;
static avr_flashaddr_t tick;   // where millisecond() begins
static uint16_t entered;       // stack pointer there, 0: outside
static avr_flashaddr_t back;   // where it returns to
static avr_cycle_count_t since;
static bool hang, hang_interrupts, hang_in_tick;
static step_output *now;

void *peripheral(const char *kind) {
	for (avr_io_t *io = avr->io_port; io != NULL; io = io->next) {
		if (strcmp(io->kind, kind) == 0 && (strcmp(kind, "uart") != 0 || ((avr_uart_t *)io)->name == '0')) {
			return io;
		}
	}
	return NULL;
}

static void on_sent(avr_irq_t *irq, uint32_t byte, void *unused) {
	(void)irq, (void)unused;
	if (sent_count < TX_MOST) {
		sent[sent_count++] = (uint8_t)byte;
	}
}

// The emulator counts a parity bit that is not there: put right what it made of
// the rate, to start, 8 and stop.
static void set_rate(void) {
	uint32_t bit = (uint32_t)((avr->data[UBRR0H] << 8 | avr->data[UBRR0L]) + 1);
	uart->cycles_per_byte = 10 * bit * (avr->data[UCSR0A] & U2X0 ? 8 : 16);
}

// One byte arrives for each time that a byte takes on the line. Real receivers
// hold two bytes and a third that is arriving.
static avr_cycle_count_t on_arrival(avr_t *mcu, avr_cycle_count_t when, void *unused) {
	(void)mcu, (void)unused;
	if (arriving_count == 0) {
		return 0;
	}
	uint16_t byte = arriving[arriving_first];
	arriving_first = (arriving_first + 1) % RX_QUEUE;
	arriving_count--;
	if (((uart->input.write - uart->input.read) & (uart_fifo_fifo_size - 1)) >= 3) {
		overruns++;
	} else {
		avr_raise_irq(uart_in, byte);
	}
	return when + uart->cycles_per_byte;
}

static avr_cycle_count_t on_goal(avr_t *mcu, avr_cycle_count_t when, void *unused) {
	(void)mcu, (void)when, (void)unused;
	return 0; // ends a sleep in time
}

// This emulator counts the old time to its end when a running watchdog is given
// another one: begin the new one.
static void on_watchdog(avr_t *mcu, avr_io_addr_t address, uint8_t v, void *unused) {
	static uint8_t last;
	(void)v, (void)unused;
	uint8_t now = mcu->data[address] & PRESCALER;
	if (now != last) {
		last = now;
		avr_ioctl(mcu, AVR_IOCTL_WATCHDOG_RESET, NULL);
	}
}

static void no_sleep(avr_t *mcu, avr_cycle_count_t cycles) { (void)mcu, (void)cycles; }

bool board_make(const char *memory) {
	avr = avr_make_mcu_by_name("atmega2560");
	if (avr == NULL) {
		return false;
	}
	avr_init(avr);
	avr->frequency = CYCLES_PER_MS * 1000u;
	avr->vcc = avr->avcc = avr->aref = 5000;
	avr->sleep = no_sleep;
	avr->log = 1;
	uart = peripheral("uart");
	uart->flags = 0;
	uart_in = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_sent, NULL);
	avr_register_io_write(avr, WDTCSR, on_watchdog, NULL);
	wires_make();
	if (!memory_make(memory)) {
		return false;
	}
	avr->flash[NOWHERE] = 0xFF, avr->flash[NOWHERE + 1] = 0xCF; // rjmp to itself
	return true;
}

void board_load(uint32_t address, const uint8_t *code, uint32_t bytes) {
	if (address <= NOWHERE && bytes <= NOWHERE - address) {
		memcpy(avr->flash + address, code, bytes);
	}
	avr->codeend = avr->flashend;
}

void board_watch(uint32_t at, const uint8_t *regions, uint32_t bytes) {
	tick = at;
	memory_regions(regions, bytes);
}

static void after_reset(void) {
	entered = 0;
	hang = false;
	wires_forget();
}

void board_cut(uint8_t torn) {
	if (powered) {
		memory_cut(torn);
	}
	powered = false;
}

// Power comes, or the reset pin is let go: cause as MCUSR has it.
void board_power(uint8_t cause, uint8_t torn, uint32_t seed) {
	enum { POWER_ON = 1, BROWN_OUT = 4 };
	if (cause & (POWER_ON | BROWN_OUT)) {
		board_cut(torn);
		memory_power(seed);
		arriving_count = 0;
	}
	avr_reset(avr);
	avr->data[MCUSR] = cause;
	powered = true;
	crashed = held = false;
	after_reset();
}

void board_hang(bool interrupts, bool in_tick) {
	hang = true;
	hang_interrupts = interrupts;
	hang_in_tick = in_tick;
}

bool board_send(uint16_t byte) {
	if (arriving_count == RX_QUEUE) {
		return false;
	}
	arriving[(arriving_first + arriving_count++) % RX_QUEUE] = byte;
	return true;
}

uint16_t board_sent(uint8_t *to) {
	uint16_t n = sent_count;
	memcpy(to, sent, n);
	sent_count = 0;
	return n;
}

static uint16_t stack(void) { return (uint16_t)(avr->data[R_SPL] | avr->data[R_SPH] << 8); }

// Sees millisecond() begin and end.
static void watch(uint16_t sp) {
	if (entered == 0) {
		if (avr->pc == tick) {
			const uint8_t *top = avr->data + sp + 1; // high byte first, in words
			entered = sp;
			back = (avr_flashaddr_t)(top[0] << 16 | top[1] << 8 | top[2]) * 2;
			since = avr->cycle;
		}
		return;
	}
	if (sp <= entered || avr->pc != back) {
		return;
	}
	entered = 0;
	uint32_t took = (uint32_t)(avr->cycle - since);
	now->longest = took > now->longest ? took : now->longest;
	if (now->captures < MAX_CAPTURES) {
		memory_capture(captured + (size_t)now->captures++ * capture_bytes);
	}
}

// The program hangs from here on, as by a defect, with interrupts or without: in
// millisecond(), or in the main loop where it is about to feed the watchdog, so
// that it is not the interrupt around millisecond().
static void try_hang(void) {
	enum { WDR = 0x95A8 };
	bool runs = avr->sreg[S_I] && avr->state == cpu_Running;
	bool feeds = (avr->flash[avr->pc] | avr->flash[avr->pc + 1] << 8) == WDR;
	if (runs && (hang_in_tick ? entered != 0 : entered == 0 && feeds)) {
		hang = false;
		avr->pc = NOWHERE;
		avr->sreg[S_I] = hang_interrupts;
	}
}

// The lowest stack pointer, but for the moment in which a function has set half
// of it to make room.
static void lowest(uint16_t sp) {
	static uint16_t last;
	static uint8_t steady;
	enum { CALL = 3, HALF_SET = 3 }; // bytes that a call pushes; instructions
	bool pushed = sp < last && last - sp <= CALL;
	steady = sp != last ? 0 : steady < HALF_SET ? steady + 1 : HALF_SET;
	last = sp;
	if ((pushed || steady == HALF_SET) && sp < now->stack && sp > avr->ioend) { // 0 until it is set
		now->stack = sp;
	}
}

static void run(void) {
	while (avr->cycle < goal) {
		if (hang) {
			try_hang();
		}
		int state = avr_run(avr);
		if (state == cpu_Done || state == cpu_Crashed) {
			crashed = true;
			fprintf(stderr, "state %d at %#x, cycle %llu, stack %#x\n", state, (unsigned)avr->pc,
				(unsigned long long)avr->cycle, (unsigned)stack());
			return;
		}
		if (avr->pc == 0 && (avr->data[MCUSR] & WATCHDOG_RESET) && stack() == avr->ramend) {
			now->resets++;
			after_reset();
		}
		uint16_t sp = stack();
		lowest(sp);
		watch(sp);
	}
}

// The crystal is slow or fast: a step has so many of its cycles.
void board_clock(uint16_t percent) { clock_percent = percent; }

void board_step(const step_input *in, step_output *out) {
	memset(out, 0, sizeof *out);
	out->stack = (uint16_t)avr->ramend;
	goal += CYCLES_PER_MS * clock_percent / 100;
	now = out;
	memory_dead(in->eeprom_dead);
	if (in->held && !held) {
		avr_reset(avr);
		after_reset();
	}
	bool released = held && !in->held;
	held = in->held;
	if (released) {
		board_power(1 << 1, 0, 0); // external reset
	}
	if (!powered || held || crashed) {
		avr->cycle = goal;
	}
	wires_in(in);
	wires_begin();
	if (avr->cycle < goal) {
		set_rate();
		encoder_to(in->travel, in->dead_tracks);
		if (arriving_count > 0 && avr_cycle_timer_status(avr, on_arrival, NULL) == 0) {
			avr_cycle_timer_register(avr, 1, on_arrival, NULL);
		}
		if (in->watchdog_dead) {
			avr_ioctl(avr, AVR_IOCTL_WATCHDOG_RESET, NULL);
		}
		avr_cycle_timer_register(avr, goal - avr->cycle, on_goal, NULL);
		run();
	}
	wires_out(out);
	if (!powered) {
		out->level = out->high = 1 << 9; // OUT_BRAKE: it holds without power
		memset(out->steps, 0, sizeof out->steps);
	}
	out->overruns = (uint16_t)overruns;
	overruns = 0;
	out->early_writes = memory_early_writes();
	out->state = !powered ? 1 : crashed ? 2 : 0;
}
