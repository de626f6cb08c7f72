// Command mutants shows that the tests of the C core are not vacuous. It changes
// one token or statement of firmware/core at a time, compiles that file, and
// plays the recorded tapes of the Go warden and the Go wire to it: a mutant
// whose answers are the recorded ones lives, and is a hole in the walks or code
// that does nothing.
//
// It changes no file of the project. It proves nothing about hardware, nor
// about faults that no operator makes; warden.h, wire.h and proof.h, which declare only,
// are held to Go by the tests of firmware. Start reading at operators.go;
// trial.go compiles and plays, firmware/record_test.go records.
//
// Run it from the module's root: make mutants-c.
package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

func main() {
	jobs := flag.Int("j", runtime.NumCPU(), "mutants tried at the same time")
	only := flag.String("only", "", "only mutants whose file:line and change contain this text")
	sample := flag.Int("sample", 0, "only so many mutants, picked by -seed; 0: all")
	seed := flag.Uint64("seed", 1, "of -sample")
	steps := flag.Int("steps", 300000, "of the warden that are recorded")
	list := flag.Bool("list", false, "list the mutants and end")
	flag.Parse()
	if err := run(*jobs, *only, *sample, *seed, *steps, *list); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func run(jobs int, only string, sample int, seed uint64, steps int, list bool) error {
	began := time.Now()
	mutants, excused, err := ofCore(".")
	if err != nil {
		return err
	}
	total := len(mutants)
	mutants = slices.DeleteFunc(mutants, func(m mutant) bool {
		_, ok := excused[m.Key()]
		return ok || !strings.Contains(m.ID(), only)
	})
	if sample > 0 {
		mutants = pick(mutants, sample, seed)
	}
	fmt.Printf("%d mutants, %d excused with a proof, %d chosen\n", total, len(excused), len(mutants))
	if list {
		for _, m := range mutants {
			fmt.Printf("%-11s %s\n", m.Operator, m.ID())
		}
		return nil
	}
	t, err := newTrial(".", steps)
	if err != nil {
		return err
	}
	defer t.remove()
	fmt.Printf("recorded and compiled in %v\n", time.Since(began).Round(time.Second))
	results, err := t.all(mutants, jobs, func(done int, r result) {
		if r.Fate == lives {
			fmt.Println("LIVES", r.ID())
		}
		if done%200 == 0 {
			fmt.Printf("%d/%d in %v\n", done, len(mutants), time.Since(began).Round(time.Second))
		}
	})
	if err != nil {
		return err
	}
	return report(os.Stdout, results, excused, time.Since(began))
}

// ofCore generates the mutants of the C files and of the headers that have
// code, and reads which of them are excused.
func ofCore(root string) ([]mutant, map[string]string, error) {
	core := filepath.Join(root, "firmware/core")
	names, err := filepath.Glob(filepath.Join(core, "*.[ch]"))
	if err != nil || len(names) == 0 {
		return nil, nil, fmt.Errorf("no C files in %s; run from the module's root (%v)", core, err)
	}
	sources, files := map[string]string{}, []string{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, nil, err
		}
		sources[name] = string(text)
		if base := filepath.Base(name); base != "warden.h" && base != "wire.h" && base != "proof.h" {
			files = append(files, name)
		}
	}
	mutants, err := generate(files, sources)
	if err != nil {
		return nil, nil, err
	}
	excused, err := readEquivalent(filepath.Join(root, "firmware/mutants/equivalent.txt"), mutants)
	return mutants, excused, err
}

// pick is a sample, in order.
func pick(mutants []mutant, n int, seed uint64) []mutant {
	places := rand.New(rand.NewPCG(seed, 0)).Perm(len(mutants))
	places = places[:min(n, len(places))]
	slices.Sort(places)
	var some []mutant
	for _, i := range places {
		some = append(some, mutants[i])
	}
	return some
}
