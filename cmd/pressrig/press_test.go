package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/controller"
	"pressrig/panel/api"
)

func TestPressFollowsToTheEnd(t *testing.T) {
	for _, c := range []struct {
		ends controller.State
		code int
	}{
		{controller.Complete, exitDone}, {controller.Stopped, exitFailed}, {controller.Aborted,
			exitFailed},
	} {
		d := daemon(t)
		d.ends = c.ends
		got := cli(t, d.socket, "perhaps\ny\n", "press", "practice-disc")
		if got.code != c.code {
			t.Errorf("%v: %+v", c.ends, got)
		}
		for _, want := range []string{"push START at the rig", "Is the blank seated? [y/n]",
			"y or n is wanted", "cycle 12 is " + c.ends.String() + ": as the test wants"} {
			if !strings.Contains(got.out, want) {
				t.Errorf("%v: no %q in\n%s", c.ends, want, got.out)
			}
		}
		if want := "press practice-disc  by Ada|answer yes by Ada"; strings.Join(d.asked, "|") != want {
			t.Errorf("asked %q, want %q", d.asked, want)
		}
	}
}

func TestPressAnswersNo(t *testing.T) {
	d := daemon(t)
	d.ends = controller.Stopped
	cli(t, d.socket, "n\n", "press", "practice-disc")
	if d.asked[1] != "answer no by Ada" {
		t.Errorf("asked %q", d.asked)
	}
}

func TestPressDetached(t *testing.T) {
	d := daemon(t)
	got := cli(t, d.socket, "", "press", "practice-disc", "--detach")
	if got.code != exitDone || !strings.Contains(got.out, "push START at the rig") ||
		len(d.asked) != 1 {
		t.Errorf("got %+v, asked %q", got, d.asked)
	}
	got = cli(t, d.socket, "", "press", "practice-disc", "--detach", "--json")
	var started api.Started
	if err := json.Unmarshal([]byte(got.out), &started); err != nil || started.Cycle != 12 {
		t.Errorf("%v in %q", err, got.out)
	}
}

func TestPressFile(t *testing.T) {
	d := daemon(t)
	file := filepath.Join(t.TempDir(), "mine.yaml")
	if err := os.WriteFile(file, []byte("recipe: mine\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cli(t, d.socket, "", "press", file, "--detach")
	if want := "press " + file + " recipe: mine\n by Ada"; d.asked[0] != want {
		t.Errorf("asked %q, want %q", d.asked[0], want)
	}
	if err := os.WriteFile(file, make([]byte, api.MaxRecipeText+1), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := cli(t, d.socket, "", "press", file); got.code != exitFailed ||
		!strings.Contains(got.err, "longer than 65536") {
		t.Errorf("got %+v", got)
	}
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if got := cli(t, d.socket, "", "press", file); got.code != exitFailed ||
		!strings.Contains(got.err, "is empty") {
		t.Errorf("got %+v", got)
	}
}

// TestPressAsJSON: every line of the output is a frame, questions stand beside.
func TestPressAsJSON(t *testing.T) {
	d := daemon(t)
	got := cli(t, d.socket, "y\n", "press", "practice-disc", "--json")
	if got.code != exitDone || !strings.Contains(got.err, "Is the blank seated?") {
		t.Errorf("got %+v", got)
	}
	for _, line := range strings.Split(strings.TrimSpace(got.out), "\n") {
		var f api.Frame
		if err := json.Unmarshal([]byte(line), &f); err != nil || f.Version != api.Version {
			t.Fatalf("%v in %q", err, line)
		}
	}
}

func TestRecordLines(t *testing.T) {
	cause := &api.Cause{Row: 3, Text: "flame lost"}
	for _, c := range []struct {
		r    api.Record
		want string
	}{
		{api.Record{Kind: "start", Cycle: 12}, "     0.0 s  cycle 12 begins"},
		{api.Record{Kind: "phase_begin", Name: "fire", AtS: 12.34}, "    12.3 s  phase fire"},
		{api.Record{Kind: "phase_end", Name: "fire", Reason: "soft"},
			"     0.0 s  phase fire ended: soft"},
		{api.Record{Kind: "state", State: "held"}, "     0.0 s  held"},
		{api.Record{Kind: "end", State: "aborted", Reason: "why"}, "     0.0 s  aborted: why"},
		{api.Record{Kind: "trip", Cause: cause}, "     0.0 s  TRIP (flame lost)"},
		{api.Record{Kind: "alarm", Cause: cause}, "     0.0 s  ALARM (flame lost)"},
		{api.Record{Kind: "mark", Reason: "contact"}, "     0.0 s  contact"},
		{api.Record{Kind: "measure", Name: "pull peak", Value: 8.1234, Unit: "N"},
			"     0.0 s  pull peak 8.12 N"},
		{api.Record{Kind: "command", Name: "stop", By: "Ada"}, "     0.0 s  stop by Ada"},
		{api.Record{Kind: "prompt"}, ""},
	} {
		if got := recordLine(&c.r); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
