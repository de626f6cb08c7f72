// Package rig has the words that all other packages share about one machine:
// its profile, its channels, what it reports (Snapshot) and what may be asked
// of it (Request).
//
// It never talks to a port and never decides. Numbers travel as the warden's
// fixed-point integers, so that a trace is exactly what was on the wire;
// methods give them in units. Start reading at snapshot.go.
package rig
