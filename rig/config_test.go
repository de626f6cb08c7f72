package rig_test

import (
	"crypto/sha256"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pressrig/alloctest"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
	"pressrig/yamlfile"
	"pressrig/yamlfile/yamltest"
)

func builtin(t testing.TB, name string) *rig.Profile {
	t.Helper()
	p, err := rig.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// changed is a built-in profile with one text replaced by another.
func changed(t testing.TB, name, from, to string) (*rig.Profile, error) {
	t.Helper()
	text, err := rig.BuiltinText(name)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), from) {
		t.Fatalf("%s has no %q", name, from)
	}
	// Without its proofs: they would fault for each switch that is taken out.
	bare, _, _ := strings.Cut(string(text), "\nproof_tests:")
	return rig.ParseProfile(name, []byte(strings.Replace(bare, from, to, 1)))
}

// The warden's numbers are the profile's in its fixed point, unit by unit.
func TestWardenConfigIsTheProfile(t *testing.T) {
	p := builtin(t, "driven")
	c := p.WardenConfig()
	for _, v := range []struct {
		name       string
		have, want int64
	}{
		{"fuel_max 4 L/min in mL/min", int64(c.FuelMaxMl), 4000},
		{"soft_max 1.6 L/min in mL/min", int64(c.SoftMaxMl), 1600},
		{"oxygen_max 16 L/min in mL/min", int64(c.OxygenMaxMl), 16000},
		{"max 200 rpm in 0.1 rpm", int64(c.SpindleMaxDrpm), 2000},
		{"heat 20 rpm in 0.1 rpm", int64(c.SpindleHeatDrpm), 200},
		{"creep 15 rpm in 0.1 rpm", int64(c.CreepDrpm), 150},
		{"open_up_to 1 mm in 0.01 mm", int64(c.OpenCmm), 100},
		{"heat_up_to 5 mm in 0.01 mm", int64(c.HeatCmm), 500},
		{"end 62 mm in 0.01 mm", int64(c.EndCmm), 6200},
		{"speed_max 60 mm/s in 0.01 mm/s", int64(c.SpeedMaxCmms), 6000},
		{"hand_speed 10 mm/s in 0.01 mm/s", int64(c.HandCmms), 1000},
		{"force_max 400 N in 0.1 N", int64(c.ForceMaxDN), 4000},
		{"over_force 500 N in 0.1 N", int64(c.OverForceDN), 5000},
		{"ease: 400 N in a second, 0.1 N each ms", int64(c.EaseStepDN), 4},
		{"pull_max 60 N in 0.1 N", int64(c.PullMaxDN), 600},
		{"contact 8 N in 0.1 N", int64(c.ContactDN), 80},
		{"low 300 C in 0.1 C", int64(c.GlassLowDC), 3000},
		{"high 1200 C in 0.1 C", int64(c.GlassHighDC), 12000},
		{"trial 3 s in ms", int64(c.TrialMs), 3000},
		{"purge 35 s in ms", int64(c.PurgeMs), 35000},
		{"flame_response 800 ms", int64(c.FlameOffMs), 800},
		{"valve_closing 300 ms", int64(c.ValveCloseMs), 300},
		{"park_longest 10 min in ms", int64(c.ParkMs), 600000},
		{"opening 62 mm at 10 mm/s and 2 s", int64(c.RetractMs), 8200},
		{"oxygen after unbroken flame, invariant 2", int64(c.OxygenAfterMs), 1000},
		{"lease, invariant 8", int64(c.LeaseMs), 500},
		{"arming, invariant 7", int64(c.ArmMs), 60000},
		{"oldest sample, invariant 9", int64(c.SampleMs), 200},
	} {
		if v.have != v.want {
			t.Errorf("%s: %d, want %d", v.name, v.have, v.want)
		}
	}
}

// What the profile says of the extraction's motor and of the burner control.
func TestFanAndControlResponse(t *testing.T) {
	p := builtin(t, "driven")
	if g := &p.Gas; g.FanPlace != "neither" || g.ControlResponse != 0 || p.WardenConfig().Options&warden.OptFanSafe != 0 {
		t.Errorf("what is not said: %+v", g)
	}
	const at = "  soft_max: 1.6 L/min\n"
	p, err := changed(t, "driven", at, at+"  control_response: 100 ms\n  fan: outside_hazardous_area\n")
	if err != nil {
		t.Fatal(err)
	}
	if g := &p.Gas; g.ControlResponse != 100*time.Millisecond || p.WardenConfig().Options&warden.OptFanSafe == 0 {
		t.Errorf("as written: %+v", g)
	}
	if _, err := changed(t, "driven", at, at+"  fan: somewhere\n"); err == nil || !strings.Contains(err.Error(), "outside_hazardous_area") {
		t.Errorf("a wrong place: %v", err)
	}
}

// The least flow that a flame stands with is said where it was tried.
func TestFuelMin(t *testing.T) {
	if g := builtin(t, "driven").Gas; g.FuelMin != 0 {
		t.Errorf("not said: %v", g.FuelMin)
	}
	const at = "  soft_max: 1.6 L/min\n"
	p, err := changed(t, "driven", at, at+"  fuel_min: 0.2 L/min\n")
	if err != nil || p.Gas.FuelMin != 0.2 {
		t.Errorf("as written: %v, %v", p, err)
	}
	for _, c := range []struct{ line, want string }{
		{"fuel_min: 1.7 L/min", "fuel_min is above soft_max"}, {"fuel_min: 0.01 L/min", "0.05 L/min"},
	} {
		if _, err := changed(t, "driven", at, at+"  "+c.line+"\n"); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.line, err, c.want)
		}
	}
}

// A signal shows what its limits judge: turning backwards, too fast, too much gas.
func TestSignalsShowWhatTrips(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"at_4_ma: -50 rpm", "at_4_ma: 0 rpm", "turning backwards"},
		{"at_4_ma: -50 rpm", "at_4_ma: -19 rpm", "write at most -20 rpm"},
		{"at_20_ma: 250 rpm", "at_20_ma: 219 rpm", "write at least 220 rpm"},
		{"at_20_ma: 6 L/min", "at_20_ma: 5 L/min", "150 % of fuel_max, at 21 mA, lies above 20 mA; write at least 5.655 L/min"},
		{"at_20_ma: 23 L/min", "at_20_ma: 20 L/min", "150 % of oxygen_max"},
	} {
		if _, err := changed(t, "driven", c.from, c.to); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v; want %q", c.to, err, c.want)
		}
	}
	if _, err := changed(t, "driven", "at_4_ma: -50 rpm", "at_4_ma: -20 rpm"); err != nil {
		t.Error(err)
	}
}

func TestWardenOptions(t *testing.T) {
	for _, c := range []struct {
		name string
		want uint16
	}{
		{"driven", warden.OptSpindleFitted | warden.OptBurnerDriven | warden.OptPressDriven |
			warden.OptViewAlways | warden.OptStrokeFlameClear | warden.OptParkedDoorOpen |
			warden.OptOxygenFitted},
		{"weights", warden.OptSpindleFitted | warden.OptStrokeFlameClear |
			warden.OptParkedDoorOpen | warden.OptOxygenFitted},
		{"no-thermometer", warden.OptSpindleFitted | warden.OptBurnerDriven |
			warden.OptPressDriven | warden.OptStrokeFlameClear | warden.OptParkedDoorOpen |
			warden.OptOxygenFitted},
	} {
		conf := builtin(t, c.name).WardenConfig()
		if conf.Options != c.want {
			t.Errorf("%s: options %011b, want %011b", c.name, conf.Options, c.want)
		}
	}
}

// What is not listed is not fitted: taking one line out of the file takes
// exactly one bit out of the configuration.
func TestFittedBits(t *testing.T) {
	whole := builtin(t, "driven").WardenConfig()
	for _, name := range []string{"fuel_pressure_low", "gas_alarm", "over_force", "mould_upper",
		"fuel_flow"} {
		p, err := changed(t, "driven", "  - "+name+"\n", "")
		if err != nil {
			t.Fatal(err)
		}
		c := p.WardenConfig()
		in, analog := whole.FittedIn&^c.FittedIn, whole.FittedAnalog&^c.FittedAnalog
		if s, ok := rig.SwitchNamed(name); ok && (in != s.Bit || analog != 0) {
			t.Errorf("without %s: inputs %b, analog %b are gone", name, in, analog)
		}
		if ch, ok := rig.ChannelNamed(name); ok && (in != 0 || analog != 1<<ch.AI) {
			t.Errorf("without %s: inputs %b, analog %b are gone", name, in, analog)
		}
	}
}

// No number wraps, whatever a hand-made profile holds: a limit is at most what
// was asked for, save where that is below what the type can say.
func TestWardenConfigNeverWraps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "v")
		if rapid.IntRange(0, 9).Draw(t, "odd") == 0 {
			v = rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1)}).Draw(t,
				"special")
		}
		p := rig.Profile{}
		p.Gas.FuelMax = units.LitrePerMinute(v)
		p.Press.ForceMax, p.Press.OverForce = units.Newton(v), units.Newton(v)
		p.Press.End = units.Millimetre(v)
		p.Gas.Purge = time.Duration(rapid.Int64().Draw(t, "ns"))
		p.Gas.Trial = p.Gas.Purge
		c := p.WardenConfig()
		if float64(c.FuelMaxMl) > max(v*1000, 0)+0.5 || float64(c.ForceMaxDN) > max(v*10, 0)+0.5 {
			t.Fatalf("%v: fuel %d, force %d", v, c.FuelMaxMl, c.ForceMaxDN)
		}
		if c.OverForceDN > math.MaxInt16 {
			t.Fatalf("over-force %d is above what its input can show", c.OverForceDN)
		}
		if v > 0 && c.EndCmm < 0 || v < 0 && c.EndCmm > 0 {
			t.Fatalf("%v mm became %d", v, c.EndCmm)
		}
		ms := p.Gas.Purge.Milliseconds()
		if int64(c.PurgeMs) > max(ms, 0) || int64(c.TrialMs) > max(ms, 0) {
			t.Fatalf("%d ms became %d and %d", ms, c.PurgeMs, c.TrialMs)
		}
	})
}

func TestHashIsOfTheWholeText(t *testing.T) {
	text, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	p := builtin(t, "driven")
	if p.Hash != sha256.Sum256(text) || string(p.Text) != string(text) {
		t.Error("hash or text are not the file's")
	}
	calibrated, err := rig.ParseProfile("x", append(text, []byte("\ncalibrations:\n"+
		"  - {channel: force, read: [0 N, 100 N], actual: [1 N, 103 N], "+
		"date: 2026-11-02, reference: spring balance}\n")...))
	if err != nil {
		t.Fatal(err)
	}
	if calibrated.Hash == p.Hash {
		t.Error("a calibration does not change the hash")
	}
}

// ITS-90 in everyday use: ice 0 C, steam 100 C at 1013 mbar. A sensor that
// shows 1.0 and 98.0 there shows 49.5 half-way.
func TestTwoPointCalibration(t *testing.T) {
	text, _ := rig.BuiltinText("driven")
	p, err := rig.ParseProfile("x", append(text, []byte("\ncalibrations:\n"+
		"  - {channel: mould_lower, read: [1.0 C, 98.0 C], actual: [0 C, 100 C], "+
		"date: 2026-11-02, reference: ice and steam}\n")...))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ai    uint8
		count int16
		want  float64
	}{
		{warden.AiMouldLower, 10, 0}, {warden.AiMouldLower, 980, 100}, {warden.AiMouldLower, 495,
			50},
		{warden.AiMouldUpper, 980, 98}, {warden.AiTravel, 1234, 12.34}, {warden.AiForce, -45, -4.5},
	} {
		if have := p.Calibrated(c.ai, c.count); math.Abs(have-c.want) > 1e-9 {
			t.Errorf("channel %d, count %d: %v, want %v", c.ai, c.count, have, c.want)
		}
	}
	if !math.IsNaN(p.Calibrated(warden.NumAnalog, 1)) {
		t.Error("a channel that does not exist has a value")
	}
	if n, err := p.CountFor(warden.AiMouldLower, 1e6); err == nil {
		t.Errorf("10^6 C became count %d", n)
	}
	if _, err := p.CountFor(99, 0); err == nil {
		t.Error("a channel that does not exist has a count")
	}
	rapid.Check(t, func(t *rapid.T) {
		ai := uint8(rapid.IntRange(0, int(warden.NumAnalog)-1).Draw(t, "ai"))
		count := int16(rapid.Int16().Draw(t, "count"))
		if back, err := p.CountFor(ai, p.Calibrated(ai, count)); err != nil || back != count {
			t.Fatalf("channel %d: %d came back as %d, %v", ai, count, back, err)
		}
	})
}

// A rig without a board needs nothing but its name and its axis.
func TestRigWithoutBoard(t *testing.T) {
	p, err := rig.ParseProfile("bare.yaml",
		[]byte("rig: bare\naxis: vertical\nboard: false\nthermometer: {fitted: false}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if c := p.WardenConfig(); c.FittedIn != 0 || c.FittedAnalog != 0 || c.FuelMaxMl != 0 {
		t.Errorf("a rig without a board has a warden configuration: %+v", c)
	}
}

func TestVariants(t *testing.T) {
	for _, c := range []struct{ name, from, to string }{
		{"proof tests", "board: true\n", "board: true\nproof_tests: {estop: 8760 h, " +
			"flame_seen: 24 h}\n"},
		{"turning", "at_press: stopped\n  upper_half: fixed",
			"at_press: turning\n  press_low: 40 rpm\n  press_high: 80 rpm\n  upper_half: " +
				"synchronised"},
		{"indexed", "at_press: stopped", "at_press: indexed"},
		{"fixed burner", "slide: driven\n  stroke_flame: clear",
			"slide: none\n  fixed: true\n  stroke_flame: soft"},
		{"no oxygen", "oxygen: true", "oxygen: false"},
		{"port", "simulated: true", "simulated: false\nport: /dev/ttyACM0"},
	} {
		p, err := changed(t, "driven", c.from, c.to)
		switch c.name {
		case "indexed": // the index switch is not fitted
			if err == nil {
				t.Error("indexed without its switch was accepted")
			}
		case "no oxygen": // oxygen_max is left over
			if err == nil {
				t.Error("oxygen_max without oxygen was accepted")
			}
		default:
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			} else if conf := p.WardenConfig(); conf.FittedIn == 0 {
				t.Errorf("%s: nothing fitted", c.name)
			}
		}
	}
	if _, err := rig.Builtin("nothing"); err == nil {
		t.Error("found a profile that is not there")
	}
}

func TestPositionNamesInOrderOfTravel(t *testing.T) {
	have := strings.Join(builtin(t, "driven").PositionNames(), " ")
	if want := "open mould_heat wait flatten form"; have != want {
		t.Errorf("%s, want %s", have, want)
	}
}

func FuzzParseProfile(f *testing.F) {
	for _, name := range rig.BuiltinNames() {
		text, err := rig.BuiltinText(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("rig: x\nboard: true\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		var p *rig.Profile
		var err error
		alloctest.Within(t, yamltest.MostAllocated(len(text)), func() {
			p, err = rig.ParseProfile("f", text)
		})
		if (p == nil) == (err == nil) {
			t.Fatalf("profile %v beside error %v", p, err)
		}
		if err != nil {
			if n := len(yamlfile.Of(err)); n == 0 || n > yamlfile.MostProblems+1 {
				t.Fatalf("%d problems: %v", n, err)
			}
			return
		}
		c := p.WardenConfig()
		if p.Board && (c.TrialMs > 3000 || c.PurgeMs < 30000 || c.FlameOffMs > 900 || c.HandCmms > 1000 ||
			c.FittedIn&warden.InEstopOK == 0 || c.FittedIn&warden.InFlame == 0) {
			t.Fatalf("accepted a configuration past its limits: %+v", c)
		}
	})
}
