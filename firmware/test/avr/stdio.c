// Gives a test program on the emulated ATmega2560 a stdin, stdout and stderr:
// three spare registers that sim.c reads and writes.
#include <avr/io.h>
#include <stdio.h>

static int get(FILE *f) {
	(void)f;
	return GPIOR1;
}

static int put_out(char c, FILE *f) {
	(void)f;
	GPIOR0 = (uint8_t)c;
	return 0;
}

static int put_err(char c, FILE *f) {
	(void)f;
	GPIOR2 = (uint8_t)c;
	return 0;
}

static FILE in_and_out = FDEV_SETUP_STREAM(put_out, get, _FDEV_SETUP_RW);
static FILE complaints = FDEV_SETUP_STREAM(put_err, NULL, _FDEV_SETUP_WRITE);

__attribute__((constructor)) static void connect(void) {
	stdin = &in_and_out;
	stdout = &in_and_out;
	stderr = &complaints;
}
