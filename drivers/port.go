// Package drivers has the Rig port, the one way the daemon reaches a rig, and
// its implementation over a serial line. It never decides anything and never
// keeps an output alive by itself: without Send the warden's leases run out.
// Start reading at Port; the frames are package wire's.
package drivers

import (
	"time"

	"pressrig/rig"
)

// ReportKind says what a Report carries.
type ReportKind uint8

// Report kinds.
const (
	ReportHello    ReportKind = 1 // Caps: link up, or a new session after a restart
	ReportSnapshot ReportKind = 2 // Snap
	ReportEvent    ReportKind = 3 // Event: what the microcontroller says of itself
	ReportBad      ReportKind = 4 // a frame was refused for corruption
	ReportDown     ReportKind = 5 // Err: the line is gone; the port retries by itself
)

// Report is what a Port tells.
type Report struct {
	Kind  ReportKind
	At    time.Time // monotonic, when the last byte came in
	Snap  rig.Snapshot
	Caps  rig.Capabilities
	Event uint16 // wire event code
	Value uint32
	Err   error
	// Noisy, with ReportBad: the error budget of the line is used up (PROTOCOL.md, 4.4).
	Noisy bool
}

// Port is one rig. String names the device; Halt sends nothing more, so that
// within LeaseMs the warden has made the rig inert by itself.
type Port interface {
	// Reports is a bounded queue; when it is full the oldest snapshot is
	// dropped and counted, never a hello or down.
	Reports() <-chan Report
	// Send queues a request and never blocks. A newer request replaces one
	// that has not left yet. An error means that the line is down.
	Send(*rig.Request) error
	Halt()
	Close() error
	String() string
}
