package rehearse_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"testing"

	"pressrig/controller"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/trials"
)

var pictures = flag.String("pictures", "", "folder to draw the cycles into, to be looked at")

// profileAndRecipe reads a stored recipe on the profile that it is written for.
func profileAndRecipe(t testing.TB, name string) (*rig.Profile, *recipes.Recipe) {
	t.Helper()
	sample, err := recipes.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin(sample.For)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse(name+".yaml", sample.Text, p)
	if err != nil {
		t.Fatal(err)
	}
	return p, r
}

// play runs one cycle of a stored recipe with a person who answers, presses
// SOFT when the glass is soft, and swings a burner moved by hand.
func play(t testing.TB, name string, seed uint64) *rehearse.Rehearsal {
	t.Helper()
	p, r := profileAndRecipe(t, name)
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: seed, Answers: true})
	if err != nil {
		t.Fatal(err)
	}
	h.Steps = func(_ *controller.Input, out *controller.Output) { h.ByHand(p, r, out) }
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	if !h.Run(20*60*1000, h.Ended) {
		t.Fatalf("%s not ended within 20 min: %+v", name, h.Out.Status)
	}
	return h
}

// Every stored recipe completes on the simulated rig that it is written for:
// all driven; weight press, hand-swung burner and end switches only; no
// thermometer.
func TestStoredRecipesComplete(t *testing.T) {
	for _, sample := range recipes.Stored() {
		t.Run(sample.Name, func(t *testing.T) {
			t.Parallel()
			_, r := profileAndRecipe(t, sample.Name)
			if r.Assisted {
				return // no rig stands behind it: controller/testdata/assisted.txt
			}
			h := play(t, sample.Name, 3)
			if h.State() != controller.Complete {
				t.Fatalf("%v: %s; first cause %d", h.State(), h.Out.Status.Reason, h.Out.Status.Cause)
			}
			believed(t, h)
			c := h.Cycle(sample.Name, sample.For)
			picture := trials.Picture(&c, &h.Trace)
			wellFormed(t, picture)
			if *pictures != "" {
				if err := os.WriteFile(filepath.Join(*pictures, sample.Name+".svg"), picture, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

func wellFormed(t *testing.T, text []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(text))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// The normal cycle as the trade does it (common practice, no source): one
// light-up; the burner clear before the press leaves open; force in contact;
// the flame back at the piece within 5 s of opening; oxygen off before fuel.
func TestNormalCycle(t *testing.T) {
	h := play(t, "stem-7pin", 1)
	if h.State() != controller.Complete {
		t.Fatalf("%v: %s", h.State(), h.Out.Status.Reason)
	}
	tr := &h.Trace
	on := func(i int, bit uint16) bool { return tr.Out[i]&bit != 0 }
	held := 0 // snapshots with most of the 250 N of the recipe in contact
	lightUps, contact, maxForce, opened, back, oxygenOff, fuelOff := 0, false, int16(0), 0, 0, 0, 0
	for i := 1; i < len(tr.Ms); i++ {
		if on(i, warden.OutFuel) && !on(i-1, warden.OutFuel) {
			lightUps++
		}
		if tr.In[i]&warden.InPressOpen == 0 && tr.In[i-1]&warden.InPressOpen != 0 {
			if tr.In[i]&warden.InBurnerClear == 0 || on(i, warden.OutOxygen) {
				t.Errorf("press left open at %d ms with the burner not clear or oxygen open", tr.Ms[i])
			}
			if !on(i, warden.OutFuel) || tr.In[i]&warden.InFlame == 0 {
				t.Errorf("flame not alive during the stroke at %d ms", tr.Ms[i])
			}
		}
		if tr.Press[i] == warden.PressContact {
			contact = true
			maxForce = max(maxForce, tr.Analog[warden.AiForce][i])
			if tr.Analog[warden.AiForce][i] > 2000 {
				held++
			}
		}
		if contact && opened == 0 && tr.In[i]&warden.InPressOpen != 0 {
			opened = int(tr.Ms[i])
		}
		if opened != 0 && back == 0 && tr.In[i]&warden.InBurnerAtBlank != 0 {
			back = int(tr.Ms[i])
		}
		if on(i-1, warden.OutOxygen) && !on(i, warden.OutOxygen) {
			oxygenOff = int(tr.Ms[i])
		}
		if on(i-1, warden.OutFuel) && !on(i, warden.OutFuel) {
			fuelOff = int(tr.Ms[i])
			if on(i, warden.OutOxygen) || on(i-1, warden.OutOxygen) {
				t.Error("oxygen not off before fuel")
			}
		}
	}
	if lightUps != 1 {
		t.Errorf("%d light-ups", lightUps)
	}
	if !contact || held < 100 || maxForce > 4000 {
		t.Errorf("contact %v, largest force %d tenths of a newton, forming force for %d0 ms", contact, maxForce, held)
	}
	if opened == 0 || back == 0 || back-opened > 5000 {
		t.Errorf("press open at %d ms, flame back at the piece at %d ms; at most 5 s", opened, back)
	}
	if oxygenOff == 0 || fuelOff == 0 || oxygenOff >= fuelOff {
		t.Errorf("oxygen off at %d ms, fuel at %d ms", oxygenOff, fuelOff)
	}
	if hottest := largest(tr.Analog[warden.AiGlass], tr.OK, warden.AiGlass); hottest < 8600 || hottest > 10000 {
		t.Errorf("hottest glass %d tenths of a degree", hottest)
	}
	if deepest := largest(tr.Analog[warden.AiTravel], tr.OK, warden.AiTravel); deepest < 5500 || deepest > 6200 {
		t.Errorf("deepest travel %d hundredths of a millimetre", deepest)
	}
}

func largest(values []int16, ok []uint16, ai uint8) int16 {
	most := int16(-32768)
	for i, v := range values {
		if ok[i]&(1<<ai) != 0 {
			most = max(most, v)
		}
	}
	return most
}

// A run: three pieces on one light-up, each with a START of its own, the flame
// parked between them.
func TestRunOfThreePieces(t *testing.T) {
	p, r := profileAndRecipe(t, "practice-disc")
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: 5, Answers: true})
	if err != nil {
		t.Fatal(err)
	}
	lightUps, starts := 0, 0
	var before warden.State
	h.Each = func() {
		_, _, s, _ := h.Rig.Warden()
		if s.Burner == warden.BurnerTrial && before.Burner != warden.BurnerTrial {
			lightUps++
		}
		if s.Started == 1 && before.Started == 0 {
			starts++
		}
		before = *s
	}
	for piece := uint16(1); piece <= 3; piece++ {
		h.Start(controller.Job{Cycle: uint32(piece), Run: 1, Piece: piece, Last: piece == 3, By: "test", Recipe: r})
		ended := h.Run(15*60*1000, func() bool { return h.Ended() && h.Out.Status.Cycle == uint32(piece) })
		if !ended || h.State() != controller.Complete {
			t.Fatalf("piece %d: %v: %s", piece, h.State(), h.Out.Status.Reason)
		}
		if piece < 3 && h.Snap.Burner != warden.BurnerRun {
			t.Errorf("flame not parked after piece %d: burner phase %d", piece, h.Snap.Burner)
		}
		h.Command(controller.Reset)
		h.Run(1000, func() bool { return h.State() == controller.Idle })
	}
	if lightUps != 1 || starts != 3 {
		t.Errorf("%d light-ups and %d starts for three pieces; 1 and 3", lightUps, starts)
	}
	if !h.Run(120*1000, func() bool { return h.Snap.Burner == warden.BurnerStandby }) {
		t.Error("flame not shut after the last piece")
	}
}

func BenchmarkCycle(b *testing.B) {
	for b.Loop() {
		h := play(b, "stem-7pin", 1)
		b.ReportMetric(float64(h.Rig.Ms())/1000, "virtual-s/op")
	}
}
