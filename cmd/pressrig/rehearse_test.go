package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func rehearseCommand(t *testing.T, args ...string) (int, string, string) {
	t.Helper()
	var out, errOut bytes.Buffer
	code := run(append([]string{"rehearse"}, args...), strings.NewReader(""), &out, &errOut)
	return code, out.String(), errOut.String()
}

func TestRehearseTellsThePiece(t *testing.T) {
	picture := filepath.Join(t.TempDir(), "trace.svg")
	code, out, errOut := rehearseCommand(t, "practice-disc", "--quick", "--runs", "3", "--picture", picture)
	if code != exitDone || errOut != "" {
		t.Fatalf("code %d, %s", code, errOut)
	}
	for _, want := range []string{"GOOD", "it promises no piece", "fire", "edge radius", "3 pieces", "force, N", "#"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if svg, err := os.ReadFile(picture); err != nil || !bytes.Contains(svg, []byte("<svg")) {
		t.Errorf("picture: %v", err)
	}
}

func TestRehearseForAProgram(t *testing.T) {
	code, out, errOut := rehearseCommand(t, "practice-disc", "--json")
	var r rehearsal
	if err := json.Unmarshal([]byte(out), &r); err != nil || code != exitDone {
		t.Fatalf("code %d, %v, %s", code, err, errOut)
	}
	if !r.Good || len(r.Findings) != 10 || len(r.Effects) != 5 || r.Effects[0].Moves < r.Effects[4].Moves {
		t.Errorf("%+v", r)
	}
}

func TestRehearseRefuses(t *testing.T) {
	dir := t.TempDir()
	broken := filepath.Join(dir, "broken.yaml")
	if err := os.WriteFile(broken, []byte("recipe: broken\nphases: 3\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"no-such-recipe"}, "no-such-recipe"},
		{[]string{"assisted-disc"}, "assisted"},
		{[]string{"practice-disc", "--runs", "-1"}, "--runs"},
		{[]string{"practice-disc", "--picture", filepath.Join(dir, "none", "x.svg")}, "folder that exists"},
		{[]string{"practice-disc", "--rig", "no-such-rig"}, "no-such-rig"},
		{[]string{broken}, "broken.yaml:"},
	} {
		if code, out, errOut := rehearseCommand(t, c.args...); code == exitDone || out != "" || !strings.Contains(errOut, c.want) {
			t.Errorf("%v: code %d, %q, %q; refused with %q", c.args, code, out, errOut, c.want)
		}
	}
}
