package glass_test

import (
	"bytes"
	"slices"
	"testing"

	"pressrig/glass"
)

func ownGlass(t *testing.T, name string) *glass.Glass {
	t.Helper()
	text, err := glass.Text("soda-lime-lamp")
	if err != nil {
		t.Fatal(err)
	}
	g, err := glass.Parse(name, bytes.Replace(text, []byte("soda-lime-lamp"), []byte(name), 1))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestShelf(t *testing.T) {
	var s glass.Shelf
	if err := s.Put(ownGlass(t, "tube-lot-12")); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"tube-lot-12", "lead-29"} {
		if g, known := s.Named(name); !known || g.Name != name {
			t.Errorf("%s: %v %v", name, g.Name, known)
		}
	}
	for _, name := range []string{"tube-lot-12", "soda-lime-lamp"} {
		if err := s.Put(ownGlass(t, name)); err == nil {
			t.Errorf("%s was put there a second time", name)
		}
	}
	if want := append(glass.Names(), "tube-lot-12"); !slices.Equal(s.Names(), want) {
		t.Errorf("names %v, want %v", s.Names(), want)
	}
	var none *glass.Shelf
	if _, known := none.Named("tube-lot-12"); known || len(none.Names()) != len(glass.Names()) {
		t.Error("the empty shelf has more than the built-in glasses")
	}
}
