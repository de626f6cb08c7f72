package main

import (
	"bufio"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"time"
)

// readEquivalent reads the mutants that no observation can tell from the
// warden, with the proof: "id := proof", a line each; # begins a comment. An
// id that names no mutant is refused, so that the list cannot rot.
func readEquivalent(name string, mutants []mutant) (map[string]string, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	excused := map[string]string{}
	lines := bufio.NewScanner(file)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		id, proof, ok := strings.Cut(line, " := ")
		if !ok || strings.TrimSpace(proof) == "" {
			return nil, fmt.Errorf("%s:%d: no proof; write \"id := proof\"", name, n)
		}
		if !slices.ContainsFunc(mutants, func(m mutant) bool { return m.ID == id }) {
			return nil, fmt.Errorf("%s:%d: no mutant has the id %q; list them with -list", name, n, id)
		}
		excused[id] = proof
	}
	return excused, lines.Err()
}

// tally counts killed of total for each key.
type tally map[string][2]int

func (t tally) add(key string, killed bool) {
	n := t[key]
	if killed {
		n[0]++
	}
	n[1]++
	t[key] = n
}

func (t tally) print(w io.Writer, title string) {
	fmt.Fprintln(w, title)
	for _, key := range slices.Sorted(maps.Keys(t)) {
		fmt.Fprintf(w, "  %-16s %4d/%d\n", key, t[key][0], t[key][1])
	}
}

// report prints the tables and fails where a mutant lives.
func report(w io.Writer, results []result, excused map[string]string, took time.Duration) error {
	operators, files, killers, invariants := tally{}, tally{}, map[string]int{}, map[string]int{}
	var lives, hung []string
	for _, r := range results {
		killed := r.Stage != ""
		operators.add(r.Operator, killed)
		files.add(r.File, killed)
		if !killed {
			lives = append(lives, r.ID)
			continue
		}
		if r.Hung {
			hung = append(hung, r.ID)
		}
		killers[r.Stage]++
		if r.Invariant != "" {
			invariants[r.Invariant]++
		}
	}
	operators.print(w, "killed/total by operator")
	files.print(w, "killed/total by file")
	printCounts(w, "killed by", killers)
	printCounts(w, "first broken invariant", invariants)
	for _, id := range hung {
		fmt.Fprintln(w, "killed by hanging:", id)
	}
	fmt.Fprintf(w, "equivalent, with proof: %d\n", len(excused))
	for _, id := range slices.Sorted(maps.Keys(excused)) {
		fmt.Fprintf(w, "  %s: %s\n", id, excused[id])
	}
	for _, id := range lives {
		fmt.Fprintln(w, "LIVES:", id)
	}
	fmt.Fprintf(w, "killed %d of %d in %v\n", len(results)-len(lives), len(results), took.Round(time.Second))
	if len(lives) > 0 {
		return fmt.Errorf("%d mutants live: each is a missing invariant", len(lives))
	}
	return nil
}

func printCounts(w io.Writer, title string, counts map[string]int) {
	fmt.Fprintln(w, title)
	keys := slices.SortedFunc(maps.Keys(counts), func(a, b string) int {
		if len(a) != len(b) {
			return len(a) - len(b) // numbers in their order
		}
		return strings.Compare(a, b)
	})
	for _, key := range keys {
		fmt.Fprintf(w, "  %-16s %4d\n", key, counts[key])
	}
}
