// Runs a test program for the ATmega2560 in an emulator, libsimavr, with this
// process' stdin and stdout as its own (stdio.c). A tool of the tests only, and
// a process of its own: libsimavr is under the GPL-3.
//
//	sim PROGRAM.elf ADDRESS
//
// ADDRESS is where a function begins in flash, in bytes; at the end stderr has
// the greatest number of cycles that a call of it took.
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// Data addresses of GPIOR0 to GPIOR2, ATmega2560 data sheet, register summary.
enum { OUT_REGISTER = 0x3E, IN_REGISTER = 0x4A, ERR_REGISTER = 0x4B };

static uint8_t arrived[1 << 16];
static ssize_t arrived_count, arrived_used;
static uint64_t most_cycles;
static FILE *answers;

static void finish(int code) {
	fflush(answers);
	fprintf(stderr, "%llu\n", (unsigned long long)most_cycles);
	exit(code);
}

static uint8_t on_read(struct avr_t *avr, avr_io_addr_t address, void *parameter) {
	(void)avr, (void)address, (void)parameter;
	if (arrived_used == arrived_count) {
		fflush(answers);
		arrived_count = read(0, arrived, sizeof arrived);
		arrived_used = 0;
		if (arrived_count <= 0) {
			finish(0);
		}
	}
	return arrived[arrived_used++];
}

static void on_write(struct avr_t *avr, avr_io_addr_t address, uint8_t v, void *parameter) {
	(void)avr, (void)address, (void)parameter;
	putc(v, answers);
}

static void on_complaint(struct avr_t *avr, avr_io_addr_t address, uint8_t v, void *parameter) {
	(void)avr, (void)address, (void)parameter;
	fputc(v, stderr);
	if (v == '\n') {
		exit(2);
	}
}

static uint16_t stack(const avr_t *avr) {
	return (uint16_t)(avr->data[R_SPL] | avr->data[R_SPH] << 8);
}

// Runs until the program or its input ends.
static void run(avr_t *avr, avr_flashaddr_t watched) {
	uint16_t entered = 0; // stack at the call that is measured, 0: none
	uint64_t since = 0;
	for (;;) {
		if (entered == 0 && avr->pc == watched) {
			entered = stack(avr);
			since = avr->cycle;
		} else if (entered != 0 && stack(avr) > entered) {
			uint64_t took = avr->cycle - since;
			most_cycles = took > most_cycles ? took : most_cycles;
			entered = 0;
		}
		int state = avr_run(avr);
		if (state == cpu_Done || state == cpu_Crashed) {
			fprintf(stderr, "the emulated program ended, state %d\n", state);
			exit(3);
		}
	}
}

int main(int argc, char **argv) {
	answers = fdopen(dup(1), "wb");
	if (answers == NULL || dup2(2, 1) < 0) { // the emulator talks on stdout
		return 3;
	}
	elf_firmware_t firmware;
	memset(&firmware, 0, sizeof firmware);
	if (argc != 3 || elf_read_firmware(argv[1], &firmware) != 0) {
		fprintf(stderr, "usage: sim PROGRAM.elf ADDRESS\n");
		return 3;
	}
	avr_t *avr = avr_make_mcu_by_name("atmega2560");
	if (avr == NULL) {
		fprintf(stderr, "the emulator has no atmega2560\n");
		return 3;
	}
	avr_init(avr);
	firmware.frequency = 16000000;
	avr_load_firmware(avr, &firmware);
	avr->log = 1;
	avr_register_io_read(avr, IN_REGISTER, on_read, NULL);
	avr_register_io_write(avr, OUT_REGISTER, on_write, NULL);
	avr_register_io_write(avr, ERR_REGISTER, on_complaint, NULL);
	run(avr, (avr_flashaddr_t)strtoul(argv[2], NULL, 0));
	return 0;
}
