// Package loop runs the supervisor: the one goroutine that owns the clock, the
// port and the order of outputs. A snapshot, an order of the operator or a
// silence of a few milliseconds makes one step of the machine; each step's
// outputs leave in the order of controller.Output's fields: records to the
// journal's queue, the request to the port, then the publishers are told.
//
// It never decides anything, never waits for journal, telemetry or page, and
// allocates nothing in steady state. When it stops, for whatever reason, it
// sends nothing more and the warden makes the rig inert by itself: neither this
// package nor the daemon is a safety device.
//
// Start reading at Loop.Run in loop.go; order.go is how operators' commands
// come in, clock.go is scaled time, ports.go what the loop needs of others.
package loop
