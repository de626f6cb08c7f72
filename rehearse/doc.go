// Package rehearse runs the cycle machine in virtual time. Rehearsal joins it
// with the simulated rig, sharing nothing but bytes, to see a recipe through or
// to prove something on many traces; Replay feeds the stored inputs of a cycle
// to it again and finds the first request that comes out otherwise.
//
// It is pure: no clock, no port, no file, no goroutine. It proves nothing about
// faults that were never stored or simulated, and it is no safety device. Start
// reading at rehearse.go, then replay.go.
package rehearse
