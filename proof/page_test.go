package proof_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/proof"
)

var update = flag.Bool("update", false, "write docs/proof-tests.md anew; a person reads the difference")

const page = "../docs/proof-tests.md"

// stepsText is the part of the page that the steps write.
func stepsText(steps []proof.Step) string {
	var b strings.Builder
	b.WriteString("\n| function | test | usual interval | PFD_avg at 1e-6/h |\n|---|---|---|---|\n")
	for _, s := range steps {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %.2e |\n", s.Function, s.Title, s.EveryWhy, 1e-6*s.Every.Hours()/2)
	}
	for _, s := range steps {
		fmt.Fprintf(&b, "\n## %s\n\n`%s`\n\n", s.Title, s.Function)
		for _, c := range s.Cautions {
			fmt.Fprintf(&b, "**Caution:** %s\n\n", c)
		}
		for i, d := range s.Do {
			fmt.Fprintf(&b, "%d. %s\n", i+1, d)
		}
		fmt.Fprintf(&b, "\nMust be seen: %s.\n", s.See)
		if s.Limit != "" {
			fmt.Fprintf(&b, "Limit: %s.\n", s.Limit)
		}
		fmt.Fprintf(&b, "%s\n", s.After)
	}
	return b.String() + "\n"
}

// The page says what the steps of the driven example rig say.
func TestPageIsFresh(t *testing.T) {
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	const begin, end = "<!-- steps begin -->\n", "<!-- steps end -->"
	before, rest, found := strings.Cut(string(text), begin)
	_, after, closed := strings.Cut(rest, end)
	if !found || !closed {
		t.Fatalf("%s lacks its marks", page)
	}
	fresh := before + begin + stepsText(proof.Steps(asked(t, "", 0))) + end + after
	if *update {
		if err := os.WriteFile(page, []byte(fresh), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if diff := cmp.Diff(fresh, string(text)); diff != "" {
		t.Errorf("go test ./proof -update writes it anew; -fresh +page:\n%s", diff)
	}
}
