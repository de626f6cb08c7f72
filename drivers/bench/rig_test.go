package bench

import (
	"crypto/sha256"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"pressrig/safety/warden"
)

// digest is the hash of every byte that a rig sends and of every truth
// while a host lights it up and things go wrong.
func digest(t *testing.T, seed uint64) [32]byte {
	t.Helper()
	sum := sha256.New()
	h := newHost(t, "driven", func(o *Options) { o.Seed = seed; o.Operator = true })
	h.each = func() { fmt.Fprintln(sum, h.bytes, h.r.Truth()) }
	for _, line := range []string{"noisy force 3 N", "line_flip 0.02 % @ 2s", "line_swap 1 % @ 4s",
		"line_repeat 1 % @ 3s", "offset glass 10 K @ burner=run", "flame_out @ burner=run+3s"} {
		f, err := ParseFault(line)
		if err != nil {
			t.Fatal(err)
		}
		if err := h.r.Inject(f); err != nil {
			t.Fatal(err)
		}
	}
	h.want.Lease, h.want.Flags, h.want.ArmID = 15, warden.ReqArm, 1
	h.ms(1500)
	h.want.Flags, h.want.FuelMl = warden.ReqCycle|warden.ReqFlame, 900
	h.ms(15000)
	return [32]byte(sum.Sum(nil))
}

// SV-070: the replay of a seed is bit-equal; another seed is another run.
func TestSameSeedSameBytes(t *testing.T) {
	first := digest(t, 7)
	if again := digest(t, 7); again != first {
		t.Error("seed 7 gave two different runs")
	}
	if other := digest(t, 8); other == first {
		t.Error("seeds 7 and 8 gave the same run")
	}
}

func TestNewRefuses(t *testing.T) {
	p, c := testConfig(t, "driven")
	if _, err := New(Options{Config: c}); err == nil {
		t.Error("no profile was taken")
	}
	if _, err := New(Options{Profile: p, Config: c, GlassName: "ice"}); err == nil {
		t.Error("glass \"ice\" was taken")
	}
}

// A step allocates nothing, with a host talking and faults acting.
func TestStepAllocatesNothing(t *testing.T) {
	h := lit(t)
	for _, line := range []string{"line_flip 0.01 %", "noisy force 3 N"} {
		f, err := ParseFault(line)
		if err != nil {
			t.Fatal(err)
		}
		if err := h.r.Inject(f); err != nil {
			t.Fatal(err)
		}
	}
	var out []byte
	out = h.r.Transmit(make([]byte, 0, 2*queueMax))
	if got := testing.AllocsPerRun(10, func() {
		for range 1000 {
			h.r.Step()
			out = h.r.Transmit(out[:0])
		}
	}); got != 0 {
		t.Errorf("%v allocations in 1,000 steps", got)
	}
}

// Whatever hands, buttons and faults do, fuel never stays open without a flame
// for more than 4 s in 30 s at the burner (invariant 3, SV-023) while both
// valves obey, and every number stays finite and in its place.
func TestAnyHandsAndFaults(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		h := newHost(t, "driven", func(o *Options) {
			o.Seed = rapid.Uint64().Draw(rt, "seed")
			o.Operator = rapid.Bool().Draw(rt, "operator")
		})
		h.want.Lease, h.want.ArmID = 15, 1
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			anyAct(rt, h)
			h.ms(rapid.IntRange(1, 3000).Draw(rt, "ms"))
			truth := h.r.Truth()
			if truth.WorstMs > 4000 {
				rt.Fatalf("unburnt fuel for %d ms in 30 s", truth.WorstMs)
			}
			if !(truth.MeanC > 0 && truth.MeanC < 2000 && truth.TravelMM >= 0 && truth.TravelMM < 70 &&
				truth.ForceN > -100 && truth.ForceN < 500 && truth.HeightMM > 0 && truth.HeightMM < 18) {
				rt.Fatalf("out of all bounds: %+v", truth)
			}
		}
	})
}

func anyAct(rt *rapid.T, h *host) {
	switch rapid.IntRange(0, 6).Draw(rt, "act") {
	case 0:
		h.r.Press(Button(rapid.IntRange(0, NumButtons).Draw(rt, "button")), 300)
	case 1:
		h.r.SetDoor(rapid.Bool().Draw(rt, "door"))
	case 2:
		h.r.SetEstop(rapid.Bool().Draw(rt, "estop"))
	case 3:
		h.r.Hand(Hand(rapid.IntRange(0, 6).Draw(rt, "hand")))
	case 4:
		h.want.Flags = uint16(rapid.IntRange(0, 511).Draw(rt, "flags"))
		h.want.FuelMl = uint16(rapid.IntRange(0, 5000).Draw(rt, "fuel"))
		h.want.SpindleDrpm = 600
	case 5:
		h.stroke(uint8(rapid.IntRange(0, 3).Draw(rt, "press")), 6000, 3000, 2500)
	default:
		anyFault(rt, h)
	}
}

// anyFault leaves out what makes both valves disobey at once.
func anyFault(rt *rapid.T, h *host) {
	c := rapid.SampledFrom(faultCases).Draw(rt, "fault")
	if c.kind == "fuel1_stuck_open" || c.kind == "fuel2_stuck_open" {
		return
	}
	f, err := ParseFault(c.line)
	if err != nil {
		rt.Fatal(err)
	}
	f.ForMs = uint32(rapid.IntRange(1, 5000).Draw(rt, "for"))
	if err := h.r.Inject(f); err != nil {
		h.r.Clear("all")
	}
}

// BenchmarkCycle180s is a lit rig with a host, 180 s of virtual time.
func BenchmarkCycle180s(b *testing.B) {
	p, c := testConfig(b, "driven")
	r, err := New(Options{Profile: p, Config: c, Seed: 1})
	if err != nil {
		b.Fatal(err)
	}
	r.plant.gas.lit, r.plant.gas.fuelMl, r.plant.slide.at = true, 2000, 1
	greet(r)
	out := make([]byte, 0, 2*queueMax)
	b.ReportAllocs()
	for b.Loop() {
		for range 180000 {
			r.Step()
			out = r.Transmit(out[:0])
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/180000, "ns/step")
}
