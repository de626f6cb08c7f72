package wiring

// socket is a pin that the board brings out.
type socket struct {
	label string // printed on the board
	at    string // port and bit of the microcontroller
}

// sockets are all of them that are ports, as variants/mega/pins_arduino.h of the
// maker's ArduinoCore-avr has them.
var sockets = []socket{
	{"0", "PE0"}, {"1", "PE1"}, {"2", "PE4"}, {"3", "PE5"}, {"4", "PG5"}, {"5", "PE3"}, {"6", "PH3"},
	{"7", "PH4"}, {"8", "PH5"}, {"9", "PH6"}, {"10", "PB4"}, {"11", "PB5"}, {"12", "PB6"}, {"13", "PB7"},
	{"14", "PJ1"}, {"15", "PJ0"}, {"16", "PH1"}, {"17", "PH0"}, {"18", "PD3"}, {"19", "PD2"}, {"20", "PD1"},
	{"21", "PD0"}, {"22", "PA0"}, {"23", "PA1"}, {"24", "PA2"}, {"25", "PA3"}, {"26", "PA4"}, {"27", "PA5"},
	{"28", "PA6"}, {"29", "PA7"}, {"30", "PC7"}, {"31", "PC6"}, {"32", "PC5"}, {"33", "PC4"}, {"34", "PC3"},
	{"35", "PC2"}, {"36", "PC1"}, {"37", "PC0"}, {"38", "PD7"}, {"39", "PG2"}, {"40", "PG1"}, {"41", "PG0"},
	{"42", "PL7"}, {"43", "PL6"}, {"44", "PL5"}, {"45", "PL4"}, {"46", "PL3"}, {"47", "PL2"}, {"48", "PL1"},
	{"49", "PL0"}, {"50", "PB3"}, {"51", "PB2"}, {"52", "PB1"}, {"53", "PB0"}, {"A0", "PF0"}, {"A1", "PF1"},
	{"A2", "PF2"}, {"A3", "PF3"}, {"A4", "PF4"}, {"A5", "PF5"}, {"A6", "PF6"}, {"A7", "PF7"}, {"A8", "PK0"},
	{"A9", "PK1"}, {"A10", "PK2"}, {"A11", "PK3"}, {"A12", "PK4"}, {"A13", "PK5"}, {"A14", "PK6"}, {"A15", "PK7"},
}
