// Package testcount is for tests: it says how many seeds, steps or runs a test
// takes, few in the inner loop and all of them in make test. It never leaves a
// test out, and is in no program. Start reading at Of.
package testcount

import "os"

// Of is short, or full where the environment says PRESSRIG_TESTS=full.
func Of(short, full int) int { return of(os.Getenv("PRESSRIG_TESTS"), short, full) }

func of(asked string, short, full int) int {
	switch asked {
	case "":
		return short
	case "full":
		return full
	}
	panic("PRESSRIG_TESTS is " + asked + "; full, or nothing for the short counts, would be right")
}
