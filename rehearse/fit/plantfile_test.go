package fit_test

import (
	"strings"
	"testing"

	"pressrig/rehearse/fit"
)

func saved() *fit.Saved {
	s := &fit.Saved{Name: "invented", Fitted: "2026-11-26", Rig: "bench", Glass: "soda-lime-lamp", Cycles: []uint32{3}}
	s.Numbers = []fit.Number{{Name: "flame", Value: 1.1, Told: true}, {Name: "loss", Value: 0.9}, {Name: "contact", Value: 1.2},
		{Name: "log_viscosity", Value: -0.1}}
	return s
}

func TestPlantFileReadsBack(t *testing.T) {
	text, err := saved().Encode()
	if err != nil {
		t.Fatal(err)
	}
	s, err := fit.Decode("plant.json", text)
	if err != nil {
		t.Fatal(err)
	}
	if s.Tune.Flame != 1.1 || s.Tune.Loss != 0.9 || s.Tune.Contact != 1.2 || s.Tune.LogPaS != -0.1 || s.Glass != "soda-lime-lamp" {
		t.Errorf("%+v", s)
	}
}

func TestBrokenPlantFilesAreRefused(t *testing.T) {
	whole, err := saved().Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "plant.json"},
		{"no plant", "{}", "0 numbers"},
		{"unknown key", `{"plan":"x"}`, "plan"},
		{"cut off", string(whole[:len(whole)/2]), "plant.json"},
		{"two", string(whole) + string(whole), "more than one"},
		{"out of range", strings.Replace(string(whole), "1.1", "11", 1), "out of range"},
		{"names swapped", strings.Replace(string(whole), `"loss"`, `"lost"`, 1), `"loss" stands there`},
		{"huge", strings.Repeat(" ", 1<<17), "at most"},
	} {
		if _, err := fit.Decode("plant.json", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; refused with %q", c.name, err, c.want)
		}
	}
}

// A plant file comes from a person's disk: nothing in it may crash, and what is
// taken reads back.
func FuzzDecode(f *testing.F) {
	text, err := saved().Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := fit.Decode("plant.json", text)
		if err != nil {
			return
		}
		again, err := s.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := fit.Decode("plant.json", again); err != nil {
			t.Fatal(err)
		}
	})
}
