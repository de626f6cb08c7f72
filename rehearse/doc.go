// Package rehearse runs the cycle machine in virtual time. Replay feeds the
// stored inputs of a cycle to it again and finds the first request that comes
// out otherwise.
//
// It is pure: no clock, no port, no file, no goroutine. It proves nothing about
// faults that were never stored or simulated, and it is no safety device. Start
// reading at replay.go.
package rehearse
