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

// readEquivalent reads the mutants that no answer can tell from the core, with
// the proof: "file change := proof", a line each; # begins a comment. What names
// no mutant is refused, so that the list cannot rot.
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
		key, proof, ok := strings.Cut(line, " := ")
		if !ok || strings.TrimSpace(proof) == "" {
			return nil, fmt.Errorf("%s:%d: no proof; write \"file change := proof\"", name, n)
		}
		if !slices.ContainsFunc(mutants, func(m mutant) bool { return m.Key() == key }) {
			return nil, fmt.Errorf("%s:%d: no mutant is %q; list them with -list", name, n, key)
		}
		excused[key] = proof
	}
	return excused, lines.Err()
}

// tally counts killed of total for each key.
type tally map[string][2]int

func (t tally) add(key string, dead bool) {
	n := t[key]
	if dead {
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

// report prints what became of the mutants; its error is that some live.
func report(w io.Writer, results []result, excused map[string]string, took time.Duration) error {
	operators, files, fates, killers := tally{}, tally{}, map[fate]int{}, tally{}
	var alive []string
	for _, r := range results {
		fates[r.Fate]++
		if r.Fate == uncompiled || r.Fate == same {
			continue
		}
		operators.add(r.Operator, r.Fate != lives)
		files.add(r.File, r.Fate != lives)
		if r.Fate == lives {
			alive = append(alive, r.ID())
			continue
		}
		killers.add(r.Killer, true)
		if r.Fate == hung {
			fmt.Fprintln(w, "killed by hanging:", r.ID())
		}
	}
	operators.print(w, "killed/total by operator")
	files.print(w, "killed/total by file")
	killers.print(w, "killed by the tape")
	fmt.Fprintf(w, "no mutants: %d do not compile, of %d the compiler makes the same object\n",
		fates[uncompiled], fates[same])
	fmt.Fprintf(w, "equivalent, with proof: %d\n", len(excused))
	for _, key := range slices.Sorted(maps.Keys(excused)) {
		fmt.Fprintf(w, "  %s: %s\n", key, excused[key])
	}
	for _, id := range alive {
		fmt.Fprintln(w, "LIVES:", id)
	}
	dead := fates[killed] + fates[hung]
	fmt.Fprintf(w, "killed %d of %d in %v\n", dead, dead+fates[lives], took.Round(time.Second))
	if len(alive) > 0 {
		return fmt.Errorf("%d mutants live: each is a hole in the walks, or code that does nothing", len(alive))
	}
	return nil
}
