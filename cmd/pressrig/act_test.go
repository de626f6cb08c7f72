package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/controller"
	"pressrig/panel/api"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

func TestCommandsReachTheDaemon(t *testing.T) {
	for _, c := range []struct{ args, asked, says string }{
		{"stop", "stop by Ada", "ends in order"},
		{"hold", "hold by Ada", "restart"},
		{"restart", "restart by Ada", "push START at the rig"},
		{"pause", "pause by Ada", "boundary"},
		{"resume", "resume by Ada", "resume is taken"},
		{"abort", "abort by Ada", "abort is taken"},
		{"reset", "reset by Ada", "reset is taken"},
		{"ack", "ack by Ada", "stays on show"},
		{"answer y --prompt 4", "answer yes by Ada", "prompt 4 is answered with yes"},
		{"answer no --prompt 4", "answer no by Ada", "with no"},
		{"stop --json", "stop by Ada", `"done": "stop"`},
	} {
		d := daemon(t)
		got := cli(t, d.socket, "", strings.Fields(c.args)...)
		if got.code != exitDone || !strings.Contains(got.out, c.says) {
			t.Errorf("%s: %+v, want %q", c.args, got, c.says)
		}
		if diff := cmp.Diff([]string{c.asked}, d.asked); diff != "" {
			t.Errorf("%s: asked, -want +got:\n%s", c.args, diff)
		}
	}
}

// TestHelpsOfActingCommands: each says that it is no safety device and that
// START at the rig starts.
func TestHelpsOfActingCommands(t *testing.T) {
	for _, c := range []string{"press", "stop", "hold", "restart", "pause", "resume", "abort",
		"reset"} {
		got := cli(t, "none", "", c, "--help")
		text := strings.Join(strings.Fields(got.out), " ")
		for _, want := range []string{"no safety device", "emergency stop at the rig",
			"START at the rig starts"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s --help lacks %q:\n%s", c, want, got.out)
			}
		}
	}
}

func TestResetDuringLockout(t *testing.T) {
	d := daemon(t)
	d.tell(controller.Status{State: controller.Aborted, Phase: -1, Lock: warden.LockLockout,
		Cause: warden.CauseFlameLost})
	got := cli(t, d.socket, "", "reset")
	if got.code != exitFailed || !strings.Contains(got.err, "RESET button at the rig") ||
		!strings.Contains(got.err, "no command clears a lockout") {
		t.Errorf("got %+v", got)
	}
	if len(d.asked) > 0 {
		t.Errorf("the daemon was asked %v", d.asked)
	}
}

func TestAnswerFindsTheOpenPrompt(t *testing.T) {
	d := daemon(t)
	d.tell(controller.Status{State: controller.Running, Phase: -1})
	if got := cli(t, d.socket, "", "answer", "y"); got.code != exitFailed ||
		!strings.Contains(got.err, "no prompt is open") {
		t.Errorf("without a prompt: %+v", got)
	}
	d.tell(controller.Status{State: controller.Running, Phase: -1, Prompt: 9, PromptTxt: "Well?"})
	if got := cli(t, d.socket, "", "answer", "n"); got.code != exitDone ||
		d.asked[0] != "answer no by Ada" {
		t.Errorf("got %+v, asked %v", got, d.asked)
	}
}

func TestExitCodes(t *testing.T) {
	d := daemon(t)
	nowhere := filepath.Join(t.TempDir(), "none")
	t.Setenv("XDG_STATE_HOME", t.TempDir())
	for _, c := range []struct {
		socket, args string
		code         int
		says         string
	}{
		{nowhere, "status", exitNoDaemon, "start it with: pressrig serve --rig"},
		{nowhere, "stop", exitNoDaemon, "no daemon answers"},
		{nowhere, "press practice-disc", exitNoDaemon, "no daemon answers"},
		{nowhere, "cycles", exitNoDaemon, "there is no journal in"},
		{nowhere, "recipes", exitDone, ""},
		{nowhere, "replay 1", exitFailed, "no journal at"},
		{nowhere, "journal check", exitFailed, "no such file"},
		{d.socket, "", exitUsage, "pressrig --help"},
		{d.socket, "jump", exitUsage, "pressrig --help"},
		{d.socket, "stop now", exitUsage, "unexpected argument"},
		{d.socket, "answer maybe", exitUsage, "must be one of"},
		{d.socket, "cycle -1", exitUsage, ""},
		{d.socket, "cycle x", exitUsage, ""},
		{d.socket, "cycles --limit 0", exitUsage, "--limit"},
		{d.socket, "cycles --limit 501", exitUsage, "--limit"},
		{d.socket, "compare 1", exitUsage, "two to 10"},
		{d.socket, "compare 1 2 3 4 5 6 7 8 9 10 11", exitUsage, "two to 10"},
		{d.socket, "journal export 1", exitUsage, "--csv or --json"},
		{d.socket, "journal export 1 --csv --json", exitUsage, "--csv or --json"},
		{d.socket, "cycle 3", exitFailed, "no cycle 3 in the journal"},
		{d.socket, "recipes none", exitFailed, "no stored recipe"},
		{d.socket, "press none.yaml", exitFailed, "no such file"},
		{d.socket, "--help", exitDone, ""},
	} {
		got := cli(t, c.socket, "", strings.Fields(c.args)...)
		if got.code != c.code || !strings.Contains(got.err, c.says) {
			t.Errorf("%q: %+v, want code %d and %q", c.args, got, c.code, c.says)
		}
	}
}

func TestRefusalIsToldWithItsLines(t *testing.T) {
	d := daemon(t)
	d.err = &api.Error{Code: api.Problems, Message: "the recipe has problems",
		Lines: []string{"a.yaml:1:2: bad; good"}}
	got := cli(t, d.socket, "", "press", "practice-disc")
	if got.code != exitFailed || got.err != "the recipe has problems\na.yaml:1:2: bad; good\n" {
		t.Errorf("got %+v", got)
	}
}

func TestStatusGolden(t *testing.T) {
	d := daemon(t)
	var all strings.Builder
	show := func(title string, s controller.Status) {
		d.tell(s)
		got := cli(t, d.socket, "", "status")
		if got.code != exitDone {
			t.Errorf("%s: %+v", title, got)
		}
		all.WriteString("# " + title + "\n" + got.out + "\n")
	}
	show("no link", controller.Status{State: controller.Idle, Phase: -1})
	d.snap = &rig.Snapshot{In: warden.InDoorClosed | warden.InFlame | warden.InBurnerAtBlank,
		AnalogOK: (1<<warden.NumAnalog - 1) &^ (1 << warden.AiMouldUpper), Burner: warden.BurnerRun,
		Press: warden.PressStay, Spindle: warden.SpindleRun, Out: warden.OutFuel}
	d.snap.Analog = [warden.NumAnalog]int16{7801, 2003, 0, 4150, -1, 600, 3200, 6400, 40, 1500}
	show("firing, with a prompt and an alarm", controller.Status{State: controller.Running, Cycle: 12,
		Run: 3, Piece: 1, Recipe: "practice-disc", Phase: 4, PhaseName: "fire", PhaseKind: recipes.Fire,
		PhaseMs: 12340, LeftMs: 21700, Doing: "heating", Prompt: 4, PromptTxt: "Is it soft?",
		Alarms: 1 << 29, Refired: true})
	d.snap.Flags = rig.FlagViewFree
	show("lockout", controller.Status{State: controller.Aborted, Cycle: 12, Phase: -1,
		Lock: warden.LockLockout, Cause: warden.CauseFlameLost, Reason: "the warden tripped",
		AckNeeded: true})
	golden(t, "status.txt", all.String())
}

func TestStoredCyclesGolden(t *testing.T) {
	d := daemon(t)
	svg := filepath.Join(t.TempDir(), "cycle.svg")
	var all strings.Builder
	for _, args := range []string{"cycles", "cycle 1 --svg " + svg, "cycle 2", "cycle 2 --json",
		"compare 1 2 --svg " + svg + "2", "recipes --json"} {
		got := cli(t, d.socket, "", strings.Fields(args)...)
		if got.code != exitDone {
			t.Errorf("%s: %+v", args, got)
		}
		if args != "recipes --json" && !strings.Contains(args, "--json") { // local time is in the JSON
			all.WriteString("$ pressrig " + strings.ReplaceAll(args, filepath.Dir(svg)+"/", "") + "\n" +
				got.out + "\n")
		}
	}
	golden(t, "stored.txt", all.String())
	for _, file := range []string{svg, svg + "2"} {
		if text, err := os.ReadFile(file); err != nil || !strings.HasPrefix(string(text), "<svg") {
			t.Errorf("%s: %v", file, err)
		}
	}
	left, err := os.ReadDir(filepath.Dir(svg))
	if err != nil || len(left) != 2 {
		t.Errorf("files left: %v %v", left, err)
	}
}
