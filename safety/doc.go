// Package safety holds what stands round the warden: the words and reasons of
// the cause-and-effect matrix, the check of a rig's configuration against the
// standards' limits, and the supervisor's own interlocks.
//
// It is a second opinion on the host, never a safety device: certified
// hardware, local codes and licensed practice come first. It talks to no port
// and reads no clock. Start reading at rows.go (the matrix in words), then
// check.go; the machine that acts is safety/warden.
package safety
