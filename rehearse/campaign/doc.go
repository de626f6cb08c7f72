// Package campaign provokes every cause of the cause-and-effect matrix and
// every error of the serial line on the simulated rig, in every phase, alone,
// in pairs and at random, and judges each run by safety/oracle: a table typed by
// hand that the software under test does not read.
//
// Cycle machine, line, warden and plant run in virtual time, as in package
// rehearse. A run stands on nothing but its Script, so that the same script
// gives the same digest, bit for bit.
//
// What it never does: it proves nothing about real hardware, and nothing about
// a fault that it does not inject. The software is never the safety device.
//
// Start reading at Script, then Run; the cases are listed by Singles, Pairs and
// Random, and what a cause needs to count stands in conditions.go.
package campaign
