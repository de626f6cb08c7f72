// Package proof holds the proof tests of a rig's protective functions: which
// there are, what a person does and must see, and a judge that watches the
// rig's own signals and says passed, failed, or not done.
//
// A proof test finds the dangerous faults that nothing shows until the day a
// function is needed. It does not replace the yearly check by a licensed
// person, and it makes no safety device of this software.
//
// It never reads a clock, sends nothing and starts nothing: time comes in as the
// microcontroller's stamps and as elapsed milliseconds, and a step that needs a
// flame names the recipe that a person arms and starts at the rig. Each step
// asserts its own signal and nothing else, so that one fault fails one step;
// what it only needs on the way makes it "not done", never passed.
//
// Start reading at Steps in steps.go, then judge.go; due.go says what is overdue.
package proof
