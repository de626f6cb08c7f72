package proof_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"pressrig/proof"
	"pressrig/rig"
)

// between puts part between its marks in the page of that name.
func between(t *testing.T, name, mark, part string) {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	begin, end := "<!-- "+mark+" begin -->\n", "<!-- "+mark+" end -->"
	before, rest, found := strings.Cut(string(text), begin)
	_, after, closed := strings.Cut(rest, end)
	if !found || !closed {
		t.Fatalf("%s lacks its marks of %s", name, mark)
	}
	fresh := before + begin + part + end + after
	if fresh == string(text) {
		return
	}
	if !*update {
		t.Fatalf("%s is older than the code; go test ./proof -update, then read the difference", name)
	}
	if err := os.WriteFile(name, []byte(fresh), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestRequirementsPageIsFresh(t *testing.T) {
	between(t, "../docs/requirements.md", "requirements", proof.RequirementsTable())
}

func TestMaintenancePageIsFresh(t *testing.T) {
	between(t, "../docs/maintenance.md", "proofs", proof.PeriodsTable(asked(t, "", 0)))
}

// Each function has hardware and something that tries it: a proof test that
// exists, or a row of the maintenance page. Each proof tries a function, but
// those of the program itself. No level is claimed.
func TestRequirementsAreTried(t *testing.T) {
	page, err := os.ReadFile("../docs/maintenance.md")
	if err != nil {
		t.Fatal(err)
	}
	_, byHand, found := strings.Cut(string(page), "## By hand")
	if !found {
		t.Fatal("docs/maintenance.md has no list of what is tried by hand")
	}
	tried := []string{"lockout_memory", "press_open", "lease"} // of the program
	for _, r := range proof.Requirements {
		if r.Function == "" || r.Stop == "" || r.Hardware == "" || len(r.Proofs) == 0 && r.ByHand == "" {
			t.Errorf("%+v says too little", r)
		}
		tried = append(tried, r.Proofs...)
		if r.ByHand == "" {
			continue
		}
		for word := range strings.SplitSeq(r.ByHand, ", ") {
			if !strings.Contains(byHand, word) {
				t.Errorf("%s: by hand %q, which docs/maintenance.md does not have", r.Function, word)
			}
		}
	}
	for _, f := range rig.ProofFunctions() {
		if !slices.Contains(tried, f) {
			t.Errorf("proof test %s tries no function of docs/requirements.md", f)
		}
	}
	for _, f := range tried {
		if !slices.Contains(rig.ProofFunctions(), f) {
			t.Errorf("there is no proof test %s", f)
		}
	}
	for line := range strings.Lines(proof.RequirementsTable()) {
		if !strings.HasSuffix(line, "| |\n") && !strings.Contains(line, "---") && !strings.Contains(line, "level (assessor)") {
			t.Errorf("a level in %q", line)
		}
	}
}

// Each proof of the rig stands in the table of periods once.
func TestPeriodsHaveEveryProof(t *testing.T) {
	table := proof.PeriodsTable(asked(t, "", 0))
	for _, f := range rig.ProofFunctions() {
		if n := strings.Count(table, "`"+f+"`"); n != 1 {
			t.Errorf("%s stands %d times", f, n)
		}
	}
}
