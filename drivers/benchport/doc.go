// Package benchport puts the simulated rig of package bench behind a real
// pseudo-terminal, so that the daemon opens it like a board, and paces it by
// the real clock times a scale.
//
// It never decides anything and adds no physics. What it adds is what a cable
// and a wall socket add: bytes that come late or not at all, a clock, memory
// that survives being killed, and a person who can be told by a text line to
// push a button. It is for simulated rigs only; hello says the scale.
//
// Start reading at Serve in serve.go; pace.go is how virtual time follows real
// time, commands.go the lines that a test or a demo may send.
package benchport
