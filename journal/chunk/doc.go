// Package chunk packs the steps of a cycle, a second at a time, into one small
// block of bytes and gives them back exactly: every field of every
// controller.Input with the rig.Request that the step produced.
//
// It is pure: no clock, no file, no goroutine of its own. It never loses a
// value (the figures are whole numbers, as on the wire) and never trusts what
// it decodes: sizes are bounded before memory is taken, a value that does not
// fit its field is an error, and corrupt input never panics.
//
// Start reading at row.go (what is kept), then columns.go (in which order),
// encode.go and decode.go. The layout of a block, format 1:
//
//	byte      format, 1
//	4 bytes   CRC-32C of all that follows, little-endian
//	uvarint   bytes of the frame
//	frame     one zstd frame, holding:
//	  uvarint   rows, 1 to 128
//	  columns   in the order of columns.go, each:
//	    byte      shape, see encode.go
//	    then      same, steps: first value; ramp: first value, step; steps in
//	              bits: width byte, first value, mean step; about a level in
//	              bits: width byte, level; copy, zero: nothing. Zigzag varints
//	    then      steps: each difference to the value before, zigzag varints
//	  uvarint   side rows, each: uvarint rows skipped, byte which, fields
//	the rest  bits of the columns whose shape says so, in their order
//
// Sensor noise does not compress; it is written in bits, each column with the
// width that suits its own noise (Rice's code), beside the frame and not in it.
// Measured on a made-up trace that saves a fifth against varints in the frame.
//
// Columns of a snapshot have a value only for rows that carry one.
package chunk
