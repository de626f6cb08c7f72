// Package controller is the cycle machine: the twelve states and eight
// commands of IEC 61512-1 over the phases of a recipe. One call of
// Machine.Step turns an Input (tick, snapshot, commands, answers, health of
// the journal) into an Output (records, one request to the rig, status).
//
// It is pure: no clock, no I/O, no goroutine, no allocation in a step. It
// never energises anything: it requests under leases, and the warden at the
// rig grants or refuses. It is no safety device: certified hardware, local
// codes and a competent person's risk assessment come first.
//
// A cycle depends on its Job and on the Inputs from its start on, on nothing
// else, so that a stored cycle replays exactly (package rehearse).
//
// Start reading at machine.go, then table.go (what is allowed when) and
// phases.go (how a recipe runs).
package controller
