// The least program that has what the emulated board looks at. It tests the
// emulated board, never a rig: each output follows an input, the spindle's
// set-point the glass signal, the EEPROM the START button; bytes are echoed, and
// RESET makes it forget the watchdog.
#include "../../core/warden.h"
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>

warden_state guard_state;
warden_input guard_input;
warden_output guard_output;
uint32_t clock_ms;
static volatile uint8_t due;
static volatile int16_t travel;

ISR(TIMER1_COMPA_vect) { due = 1; }

static uint8_t phase(void) {
	uint8_t a = PIND & 1, b = PIND >> 1 & 1;
	return (uint8_t)(b << 1 | (a ^ b)); // 0 to 3 while closing
}

static void follow(void) {
	static uint8_t last;
	uint8_t now = phase(), way = (now - last) & 3;
	travel += way == 1 ? 1 : way == 3 ? -1 : 0;
	last = now;
}
ISR(INT0_vect) { follow(); }
ISR(INT1_vect) { follow(); }

static uint16_t convert(uint8_t mux) {
	ADMUX = (uint8_t)(1 << REFS0 | (mux & 0x1F));
	ADCSRB = mux >> 5 & 1 ? 1 << MUX5 : 0;
	ADCSRA |= 1 << ADSC;
	while (ADCSRA & 1 << ADSC) {
	}
	return ADC;
}

static void keep(uint8_t byte) {
	EEAR = 7;
	EEDR = byte;
	cli();
	EECR |= 1 << EEMPE;
	EECR |= 1 << EEPE;
	sei();
}

void __attribute__((noinline)) millisecond(void) {
	clock_ms++;
	guard_input.bits = PINA;
	guard_input.analog[AI_GLASS] = (int16_t)convert(0);
	guard_input.analog[AI_SPINDLE] = (int16_t)convert(0x20);
	guard_input.analog[AI_TRAVEL] = travel;
	guard_input.analog_ok = convert(0x1E); // bandgap
	EEAR = 7;
	if (!(EECR & 1 << EEPE)) {
		EECR |= 1 << EERE;
		guard_input.nv = EEDR;
		uint8_t want = PINC >> 6 & 1 ? 0xA5 : 0x5A;
		if (guard_input.nv != want) {
			keep(want);
		}
	}
	PORTL = (uint8_t)((PORTL & 0x1F) | (PINA & 1) << 5); // fuel 1 follows the emergency stop
	PORTG = PINA >> 1 & 1 ? 4 : 0;                        // the brake is released by the door
	OCR3C = guard_input.analog[AI_GLASS] ? (uint16_t)(guard_input.analog[AI_GLASS] - 1) : 0;
	PINH = 1 << 6;
}

int main(void) {
	uint8_t cause = MCUSR;
	MCUSR = 0;
	wdt_enable(WDTO_15MS);
	guard_state.first = cause;
	DDRL = 0xE0;
	DDRG = 7;
	DDRE = 1 << 5;
	DDRH = 1 << 6;
	TCCR3A = 1 << WGM31 | 1 << COM3C1;
	TCCR3B = 1 << WGM33 | 1 << WGM32 | 1 << CS30;
	ICR3 = 15999;
	TCCR1B = 1 << WGM12 | 1 << CS10;
	OCR1A = 15999;
	TIMSK1 = 1 << OCIE1A;
	EICRA = 1 << ISC00 | 1 << ISC10;
	EIMSK = 3;
	ADCSRA = 1 << ADEN | 5;
	UCSR0A = 1 << U2X0;
	UCSR0B = 1 << RXEN0 | 1 << TXEN0;
	UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
	UBRR0 = 7;
	sei();
	for (;;) {
		if (due) {
			due = 0;
			millisecond();
			if (!(PINC >> 7)) { // RESET at the rig
				wdt_reset();
			}
		}
		if (UCSR0A & 1 << RXC0) {
			UDR0 = UDR0;
		}
	}
}
