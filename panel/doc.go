// Package panel is the daemon's local API: HTTP over a unix socket, for the
// command line and the operator's page. It tells what the rig does (the read
// side) and takes commands (the write side), two permissions with a handler
// set each.
//
// It never delays the loop: what the loop tells goes into a mailbox of the
// newest values, and a slow reader skips frames. It starts nothing: it arms,
// and the START button at the rig starts. It is no safety device, and nothing
// here is needed for the rig to come to a safe state.
//
// Start reading at New; mailbox.go is what the loop writes to, read.go and
// write.go are the two handler sets, package api has the words.
package panel
