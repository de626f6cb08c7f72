// Package warden is the executable specification of the program on the
// microcontroller: one Step a millisecond, from inputs to outputs. It is
// ordinary control software, never a safety device: certified hardware, local
// codes and a competent person's risk assessment come first.
//
// It imports nothing and uses sized integers only (no int, float, map, string
// or division; a test parses for it), so that a C firmware can equal it bit
// for bit. It never reads a clock, never allocates, never talks to a port.
//
// StepFilter stands in front, with a Filter of its own that is zeros at power-up:
// Step sees filtered inputs only. Five machines share one State: latch (what has tripped), link (who may ask),
// burner, press and spindle. They see causes only as the strongest reaction of
// each column; horn and fan, which drive.go sets, also as a leak or none. Start
// reading at step.go; causes.go is the cause-and-effect matrix as data; the
// words of it are in package safety.
package warden
