// Command mutants shows that the checks of the warden's rules are not vacuous.
// It weakens one rule at a time (a row of the matrix, an operand of an
// interlock, a bound of a timer, an edge, a combination), from the syntax tree
// of safety/warden, and demands that the invariants or the property tests of
// package safety catch every one: a mutant that lives is a missing invariant
// (SV-068: 100 % killed). The exploration would take minutes for each.
//
// It changes no file of the project, and it proves nothing about hardware or
// about faults that no operator makes. Start reading at operators.go; weave.go
// puts all mutants into one program, run.go runs the tests on each.
//
// Run it from the module's root: make mutants.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"slices"
	"strings"
	"time"
)

func main() {
	jobs := flag.Int("j", runtime.NumCPU(), "mutants tried at the same time")
	only := flag.String("only", "", "only mutants whose id contains this text")
	every := flag.Int("every", 1, "only each n-th mutant, a sample")
	list := flag.Bool("list", false, "list the mutants and end")
	verbose := flag.Bool("v", false, "say which test killed each mutant")
	with := flag.String("with", "", "only the stages whose name contains this text")
	flag.Parse()
	stages = slices.DeleteFunc(stages, func(s stage) bool { return !strings.Contains(s.name, *with) })
	if err := run(*jobs, *only, *every, *list, *verbose); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

const wardenDir = "safety/warden"

func run(jobs int, only string, every int, list, verbose bool) error {
	p, err := load(os.DirFS(wardenDir))
	if err != nil {
		return err
	}
	mutants, uncompiled, err := p.generate()
	if err != nil {
		return err
	}
	excused, err := readEquivalent("safety/mutants/equivalent.txt", mutants)
	if err != nil {
		return err
	}
	var chosen []int
	for i, m := range mutants {
		if _, ok := excused[m.ID]; ok || !strings.Contains(m.ID, only) || i%every != 0 {
			continue
		}
		chosen = append(chosen, i)
		if list {
			fmt.Printf("%-11s %s\n", m.Operator, m.ID)
		}
	}
	fmt.Printf("%d mutants, %d chosen; %d more do not compile and are none\n",
		len(mutants), len(chosen), len(uncompiled))
	for _, u := range uncompiled {
		fmt.Println("  not compiled:", u)
	}
	if list {
		return nil
	}
	interrupted := make(chan os.Signal, 1)
	signal.Notify(interrupted, os.Interrupt)
	began := time.Now()
	t, err := newTrial(p.weave(mutants))
	if err != nil {
		return err
	}
	defer t.remove()
	results, err := t.all(mutants, chosen, jobs, verbose, interrupted)
	if err != nil {
		return err
	}
	return report(os.Stdout, results, excused, time.Since(began))
}
