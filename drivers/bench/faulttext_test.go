package bench

import (
	"flag"
	"os"
	"strings"
	"testing"

	"pressrig/safety/warden"
)

func TestParseFault(t *testing.T) {
	for _, c := range []struct {
		text string
		want Fault
	}{
		{"flame_out @ glass>=700 for 5s", Fault{Name: "flame_out", ForMs: 5000,
			When: Trigger{Kind: TriggerChannel, AI: warden.AiGlass, AtLeast: true, Value: 700}}},
		{"flame_out@glass >= 700 C+10s", Fault{Name: "flame_out",
			When: Trigger{Kind: TriggerChannel, AI: warden.AiGlass, AtLeast: true, Value: 700,
				AfterMs: 10000}}},
		{"stuck glass @ 60s", Fault{Name: "stuck", Target: "glass",
			When: Trigger{Kind: TriggerAt, AtMs: 60000}}},
		{"stuck flame on @ burner=prove_dark", Fault{Name: "stuck", Target: "flame", On: true,
			When: Trigger{Kind: TriggerBurner, Phase: warden.BurnerProveDark}}},
		{"stuck door_closed off", Fault{Name: "stuck", Target: "door_closed"}},
		{"press_jam @ press=contact+200ms", Fault{Name: "press_jam",
			When: Trigger{Kind: TriggerPress, Phase: warden.PressContact, AfterMs: 200}}},
		{"offset glass -40 K", Fault{Name: "offset", Target: "glass", Value: -40}},
		{"noisy force 5", Fault{Name: "noisy", Target: "force", Value: 5}},
		{"line_flip 0.1 %", Fault{Name: "line_flip", Value: 0.1}},
		{"line_delay 300 ms for 2 s", Fault{Name: "line_delay", Value: 0.3, ForMs: 2000}},
		{"press RESET for 4s", Fault{Name: "press", Target: "RESET", ForMs: 4000}},
		{"lost travel @ force<=-3 N", Fault{Name: "lost", Target: "travel",
			When: Trigger{Kind: TriggerChannel, AI: warden.AiForce, Value: -3}}},
		{"bounce start for 1 ms", Fault{Name: "bounce", Target: "start", ForMs: 1}},
		{"fuel_flow_gain 600 %", Fault{Name: "fuel_flow_gain", Value: 600}},
		{"fuel_flow_fixed 0 L/min", Fault{Name: "fuel_flow_fixed"}},
		{"spindle_fixed 250 rpm @ burner=run", Fault{Name: "spindle_fixed", Value: 250,
			When: Trigger{Kind: TriggerBurner, Phase: warden.BurnerRun}}},
	} {
		got, err := ParseFault(c.text)
		if err != nil || got != c.want {
			t.Errorf("%q: %+v, %v; %+v", c.text, got, err, c.want)
			continue
		}
		if again, err := ParseFault(got.String()); err != nil || again != got {
			t.Errorf("%q prints as %q, which reads as %+v, %v", c.text, got.String(), again, err)
		}
	}
}

// Each error says what would be right.
func TestParseFaultErrors(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"", "flame_out @ glass>=700"},
		{"flame_gone", "flame_out"},
		{"stuck", "stuck flame on"},
		{"stuck flame", "on or off"},
		{"stuck glass on", "door_closed"},
		{"stuck nose on", "door_closed"},
		{"stuck nose", "mould_lower"},
		{"lost flame", "mould_lower"},
		{"line_drop", "line_drop 10 %"},
		{"line_drop 10 C", "%"},
		{"line_drop 120 %", "0 to 100"},
		{"offset glass", "offset glass 40 K"},
		{"offset glass 40 mm", "temperature difference"},
		{"press HOT", "START"},
		{"bounce", "bounce start for 1 ms"},
		{"bounce glass", "door_closed"},
		{"bounce start on", "write like"},
		{"fuel_flow_gain -1 %", "0 to 1000"},
		{"spindle_gain 2 rpm", "%"},
		{"flame_out now", "write like"},
		{"flame_out @", "nothing after"},
		{"flame_out for", "nothing after"},
		{"flame_out for 5s @ 3s", "too late"},
		{"flame_out @ 3s @ 4s", "twice"},
		{"flame_out @ soon", "glass>=700"},
		{"flame_out @ 5s+3s", "burner=run+10s"},
		{"flame_out @ burner=hot", "prove_dark"},
		{"flame_out @ pump=on", "burner=run"},
		{"flame_out @ nose>=3", "mould_lower"},
		{"flame_out @ glass>=3 mm", "glass"},
		{"flame_out @ glass>=NaN", "finite"},
		{"flame_out @ burner=run+x", "delay after"},
		{"flame_out for 0 s", "does nothing"},
		{"flame_out for ever", "time"},
		{strings.Repeat("x", MaxFaultText+1), "at most 200"},
	} {
		_, err := ParseFault(c.text)
		if err == nil {
			t.Errorf("%q was taken", c.text)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %q does not say %q", c.text, err, c.says)
		}
	}
}

var update = flag.Bool("update", false, "write FAULTS.md anew; a person reads the difference")

// FAULTS.md is made from the table.
func TestFaultPage(t *testing.T) {
	text := "# What can go wrong at the simulated rig\n\n" +
		"Made from the table in faults.go by `go test ./drivers/bench -run FaultPage -update`. A fault is a line,\n" +
		"for `pressrig bench --fault LINE` or `fault LINE` typed at it; several act at once.\n\n```text\n" +
		FaultHelp() + "\n```\n\n" +
		"`@` says when it begins: a time since the rig began (`@ 60 s`), a phase (`@ burner=run+10s`, `@ press=contact`)\n" +
		"or a channel's true value (`@ glass>=700`). `for` says how long it lasts; without it, until it is cleared.\n" +
		"Switches, channels and buttons have the names of [the rig's profile](../../rig/FORMAT.md) and its panel.\n" +
		"All of it is simulated: a fault that is not in this list is not known to be caught.\n"
	if *update {
		if err := os.WriteFile("FAULTS.md", []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile("FAULTS.md"); err != nil || string(kept) != text {
		t.Errorf("FAULTS.md is not what the table makes (%v); go test ./drivers/bench -run FaultPage -update", err)
	}
}

// What parses prints back to itself, and is what Inject takes.
func FuzzParseFault(f *testing.F) {
	for _, c := range faultCases {
		f.Add(c.line)
	}
	f.Add("flame_out @ glass>=700 C+10s for 5s")
	f.Add("offset force -1e3 @ press=hand_close+3ms for 1000 h")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ParseFault(text)
		if err != nil {
			return
		}
		again, err := ParseFault(got.String())
		if err != nil || again != got {
			t.Fatalf("%q prints as %q, which reads as %+v, %v; %+v", text, got.String(), again, err, got)
		}
		if _, err := checkFault(&got); err != nil {
			t.Fatalf("%q parses and is refused: %v", text, err)
		}
	})
}
