// Package emulated runs the microcontroller's real image in an emulated
// ATmega2560 and puts it in the place of the simulated microcontroller of
// package bench: lock step, one virtual millisecond a step, the same bits every
// time; or in real time behind a pseudo-terminal (rig/), so that the daemon
// talks to it as to a board.
//
// It is for tests and never part of the program that runs a rig: the emulator,
// sim/, links libsimavr, which is under the GPL-3, and is a process of its own.
// What goes well here says nothing about a real board's wiring, power and
// noise, nor about what the emulator leaves out: its analog side is ideal, its
// clock exact, its memory never decays.
//
// Start reading at board.go; wiring.go is what a value is as a voltage, sim/
// what the pins are.
package emulated
