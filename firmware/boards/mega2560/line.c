#include "board.h"

#include <avr/interrupt.h>
#include <avr/io.h>

// 250,000 baud: exact at 16 MHz with the divider 8, 0 % error. A ring that is
// full loses the byte: the frame's check finds it.
enum { RING = 256 };

static volatile uint8_t in_ring[RING], out_ring[RING];
static volatile uint8_t in_head, in_tail, out_head, out_tail; // wrap at 256 by themselves

ISR(USART0_RX_vect) {
	uint8_t byte = UDR0;
	uint8_t at = in_head;
	uint8_t next = (uint8_t)(at + 1);
	if (next != in_tail) {
		in_ring[at] = byte;
		in_head = next;
	}
}

ISR(USART0_UDRE_vect) {
	uint8_t at = out_tail;
	UDR0 = out_ring[at]; // asked for only while one waits
	at++;
	out_tail = at;
	if (at == out_head) {
		UCSR0B &= (uint8_t)~(1 << UDRIE0);
	}
}

void line_start(void) {
	UCSR0A = 1 << U2X0;
	UCSR0C = 1 << UCSZ01 | 1 << UCSZ00;
	UBRR0 = 7;
	UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
}

bool line_take(uint8_t *byte) {
	if (in_tail == in_head) {
		return false;
	}
	*byte = in_ring[in_tail];
	in_tail++;
	return true;
}

bool line_idle(void) { return out_tail == out_head; }

bool line_send(const wire_line *line) {
	uint8_t used = (uint8_t)(out_head - out_tail);
	if (line->n > WIRE_LINE_BYTES || line->n > RING - 1 - used) {
		return false;
	}
	for (uint8_t i = 0; i < line->n; i++) {
		out_ring[(uint8_t)(out_head + i)] = line->bytes[i];
	}
	if (line->n == 0) {
		return true;
	}
	uint8_t sreg = SREG;
	cli();
	out_head = (uint8_t)(out_head + line->n);
	UCSR0B |= 1 << UDRIE0;
	SREG = sreg;
	return true;
}
