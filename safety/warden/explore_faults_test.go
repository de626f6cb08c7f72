package warden

import (
	"strings"
	"testing"
)

// Self check: an exploration that finds nothing must be able to find something.
// Each seeded fault has to be caught by exploration alone, under the invariant
// named, and the script that it prints, read back, has to break the same
// invariant in the faulty Step and none in the right one.

// caught explores with and without a fault.
func caught[N any](t *testing.T, name, number string, faulty, right *search[N], read func(string) (uint32, error)) {
	t.Helper()
	faulty.sample = 0 // which letters may be left out is argued for the right Step
	f := faulty.run()
	if !strings.HasPrefix(f.broken, number+":") {
		t.Errorf("%s: found %q; want a break of invariant %s", name, f.broken, number)
		return
	}
	letters, err := readScript(strings.Join(f.script, "\n"), read)
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	if number == "17" { // the script leads to the dead end; the invariant is about what follows
		return
	}
	if broken := play(faulty, letters); broken != f.broken {
		t.Errorf("%s: the script gives %q, the exploration %q:\n%s", name, broken, f.broken, strings.Join(f.script, "\n"))
	}
	if broken := play(right, letters); broken != "" {
		t.Errorf("%s: the script breaks the right Step too: %s", name, broken)
	}
}

// play runs letters from the start and gives the first broken invariant.
func play[N any](s *search[N], letters []uint32) string {
	n := s.start[0]
	for _, letter := range letters {
		if broken := s.next(&n, letter); broken != "" {
			return broken
		}
	}
	return ""
}

func TestExploreFaultyConstants(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		number string
		fault  func(*Config)
	}{
		"trial too long":          {"1", func(c *Config) { c.TrialMs++ }},
		"flame failure too late":  {"1", func(c *Config) { c.FlameOffMs++ }},
		"purge too short":         {"3", func(c *Config) { c.PurgeMs-- }},
		"oxygen too early":        {"2", func(c *Config) { c.OxygenAfterMs, c.ProveMs, c.ProveDarkMs = 3, 3, 3 }},
		"fuel after oxygen":       {"11", func(c *Config) { c.OffMs++ }},
		"post-purge too short":    {"10", func(c *Config) { c.PostPurgeMs-- }},
		"flame in purge too late": {"1", func(c *Config) { c.FlameOnMs++ }},
	} {
		good := shortConfig()
		good.PurgeMs, good.PostPurgeMs = 60, 60
		bad := good
		c.fault(&bad)
		caught(t, name, c.number, burnerSearch(burnerPart(bad), good), burnerSearch(burnerPart(good), good), burnerWords.read)
	}
	short := testConfig()
	short.ArmMs, short.LeaseMs, short.CreepMs, short.RampMs = 60, 10, 60, 10
	short.EaseMs, short.EaseStepDN = 25, 160
	for name, c := range map[string]struct {
		number string
		fault  func(*Config)
	}{
		"armed too long": {"7", func(c *Config) { c.ArmMs++ }},
		"lease too long": {"8", func(c *Config) { c.LeaseMs++ }},
	} {
		bad := short
		c.fault(&bad)
		caught(t, name, c.number, linkSearch(linkPart(bad), short), linkSearch(linkPart(short), short), linkWords.read)
	}
	for name, c := range map[string]struct {
		number string
		fault  func(*Config)
	}{
		"creep too long":  {"5", func(c *Config) { c.CreepMs++ }},
		"creep too short": {"12", func(c *Config) { c.CreepMs-- }},
		"ramp too long":   {"5", func(c *Config) { c.RampMs++ }},
		"too fast":        {"8", func(c *Config) { c.SpindleMaxDrpm++ }},
		"set-up too fast": {"18", func(c *Config) { c.SetUpDrpm++ }},
	} {
		bad := short
		c.fault(&bad)
		caught(t, name, c.number, spindleSearch(spindlePart(bad), short), spindleSearch(spindlePart(short), short), spindleWords.read)
	}
	bad := short
	bad.EaseStepDN = 100
	caught(t, "eases too slowly", "5", pressSearch(pressPart(bad), short), pressSearch(pressPart(short), short), pressWords.read)
}

// liars change what Step sees or does, one for each invariant.
var liars = []struct {
	number string
	fault  uint32 // what may be away from nominal
	before func(*State, *Input)
	after  func(*State, *Output)
}{
	{"1", 0, nil, func(s *State, out *Output) {
		if s.Burner == BurnerRun {
			out.Bits |= OutIgniter
		}
	}},
	{"2", 0, nil, func(s *State, out *Output) {
		if s.Burner == BurnerProve {
			out.Bits |= OutOxygen
		}
	}},
	{"4", 1 << xEstop, func(_ *State, in *Input) { in.Bits |= InEstopOK }, nil},
	{"5", 1 << xEstop, func(s *State, in *Input) {
		if in.Request.Flags&ReqReset != 0 && in.Bits&InEstopOK != 0 {
			s.Trips, s.First = 0, CauseNone
		}
	}, nil},
	{"6", 0, func(s *State, _ *Input) { s.LitOnce = 0 }, nil},
	{"7", 0, nil, func(s *State, out *Output) {
		if s.Burner == BurnerStandby && s.Armed != 0 {
			out.Bits |= OutBurnerIn
		}
	}},
	{"8", 1 << xSilent, func(s *State, _ *Input) {
		for i := range s.LeaseMs {
			s.LeaseMs[i] = 0
		}
	}, nil},
	{"9", 1 << xDoor, func(_ *State, in *Input) { in.Bits |= InDoorClosed }, nil},
	{"10", 1 << xNoFlow, func(s *State, in *Input) {
		if s.Burner >= BurnerPurge {
			in.Bits |= InExtraction
		}
	}, nil},
	{"11", 1 << xOxygenLow, nil, func(s *State, out *Output) {
		if s.Burner == BurnerOff && s.Gas == GasSequenced {
			s.PhaseMs = 0 // fuel never goes
		}
	}},
	{"12", 1 << xOxygenLow, nil, func(s *State, _ *Output) { s.Above = min(s.Above, PressInhibit-1) }},
	{"15", 1 << xEstop, nil, func(s *State, _ *Output) { s.First = CauseNone }},
	{"17", 1 << xEstop, func(_ *State, in *Input) { in.Bits &^= InHoldOpen }, nil},
}

func TestExploreLiars(t *testing.T) {
	t.Parallel()
	for _, liar := range liars {
		if !*full && (liar.number == "17" || liar.number == "8") { // these need the most states
			continue
		}
		c := productConfig()
		right, faulty := newProduct(c, liar.fault, 1), newProduct(c, liar.fault, 1)
		right.tame, faulty.tame = true, true
		faulty.step = func(c *Config, s *State, in *Input, out *Output) {
			seen := *in
			if liar.before != nil {
				liar.before(s, &seen)
			}
			explored(c, s, &seen, out)
			if liar.after != nil {
				liar.after(s, out)
				s.Out = *out
			}
		}
		caught(t, "liar "+liar.number, liar.number, faulty.search("liar"), right.search("right"), readProduct)
	}
}
