// Package wire is the frame codec of the serial line between the daemon and
// the microcontroller: COBS framing, a CRC-32C salted with class and
// direction, fixed-point messages, and the rules by which a receiver takes or
// refuses a frame. PROTOCOL.md in this folder is the authority; this package
// follows it.
//
// It treats the line as a black channel: nothing on it is trusted, so every
// error must be found here. It is ordinary software and no safety device. It
// never reads a clock, never allocates by a received length, never talks to a
// port, and never repairs a frame: what is not exactly right is refused and
// counted.
//
// Start reading at frame.go. A receiver feeds bytes to a Splitter and what
// that yields to Receiver.Take; a sender keeps a Header and appends frames.
package wire
