package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/glass"
)

const floatWt = "SiO2=72.6,Na2O=13.9,CaO=8.4,MgO=3.9,Al2O3=1.1,K2O=0.6,SO3=0.2,Fe2O3=0.11"

func TestGlassAnswers(t *testing.T) {
	text, err := glass.Text("float")
	if err != nil {
		t.Fatal(err)
	}
	own := filepath.Join(t.TempDir(), "own.yaml")
	if err := os.WriteFile(own, []byte(strings.Replace(string(text), "glass: float", "glass: mine", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, args := range [][]string{
		{}, {"--name", "float", "--at", "850C", "--viscosity", "1e5Pa.s"}, {"--wt", floatWt, "--at", "850C"},
		{"--mol", "SiO2=71.28,Al2O3=.51,Na2O=3.76,K2O=5.55,PbO=18.9"},
		{"--points", "working=1005C,softening=695C,annealing=514C", "--viscosity", "1e5Pa.s"},
		{"--file", own}, {"--name", "lead-29", "--at", "850C", "--json"}, {"--json"},
	} {
		got := cli(t, "none", "", append([]string{"glass"}, args...)...)
		if got.code != exitDone || got.err != "" {
			t.Errorf("%v: %+v", args, got)
		}
		all.WriteString("$ glass " + strings.ReplaceAll(strings.Join(args, " "), own, "own.yaml") + "\n" + got.out)
	}
	golden(t, "glass.txt", all.String())
}

// Every key of a number of a glass has its source and confidence.
func TestGlassJSONTellsSources(t *testing.T) {
	for _, name := range glass.Names() {
		got := cli(t, "none", "", "glass", "--name", name, "--at", "800C", "--json")
		var a glassJSON
		if err := json.Unmarshal([]byte(got.out), &a); err != nil {
			t.Fatalf("%s: %v: %+v", name, err, got)
		}
		for key, f := range a.Figures {
			if f.Source == "" || f.Confidence == "" || strings.ContainsAny(key, "/(). %") {
				t.Errorf("%s: %s: %+v", name, key, f)
			}
		}
		if _, ok := a.Figures["softening_C"]; !ok {
			t.Errorf("%s has no softening_C", name)
		}
	}
}

func TestGlassRefuses(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.yaml")
	if err := os.WriteFile(bad, []byte("glass: x\ncolour: red\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--name", "flint"}, "there are soda-lime-lamp"},
		{[]string{"--at", "850C"}, "no glass is named"},
		// ISO 7884-7, scope
		{[]string{"--points", "softening=715C,annealing=548C,strain=511C"}, "strain point"},
		{[]string{"--wt", "SiO2=50,Na2O=20"}, "sum to 70.00"},
		{[]string{"--wt", "SiO2=110,Na2O=-10"}, "between 0 and 100"},
		{[]string{"--mol", "SiO2=30,PbO=70"}, "no model holds"},
		{[]string{"--name", "float", "--at=-50C"}, "holds from 552 to 1439 C"},
		{[]string{"--name", "float", "--at=850"}, "no unit"},
		{[]string{"--name", "float", "--viscosity=-1Pa.s"}, "holds from"},
		{[]string{"--file", bad}, `unknown key "colour"`},
	} {
		got := cli(t, "none", "", append([]string{"glass"}, c.args...)...)
		if got.code != exitUsage || got.out != "" || !strings.Contains(got.err, c.want) {
			t.Errorf("%v: %+v, want %q", c.args, got, c.want)
		}
	}
}
