// Package bench is the simulated rig: the warden at 1 kHz on a simulated
// microcontroller, wired to a simulated burner, blank, moulds, press and
// spindle. It speaks the bytes that a board would speak and nothing else, so
// that the daemon cannot tell the two apart but by the scale in hello.
//
// It never reads a clock, a file or a source of chance: time goes on by Step,
// one millisecond each, and every random number comes from Options.Seed. The
// same options, bytes and hands give the same bytes back, always.
//
// Its physics are plausible, not measured: first-order lags, numbers of the
// trade, the glass as package glass/forming computes it. It shows whether
// software behaves; it proves nothing about a real burner, and no recipe is safe
// because it went well here.
//
// Start reading at rig.go; glass.go is what is pressed from what; faults.go lists
// what can be made to go wrong.
package bench
