package mould

import (
	"fmt"
	"math"
	"strings"
)

// Figure is a number and how far to trust it.
type Figure struct {
	Value  float64
	Source string
}

// Material is what a mould is made of.
type Material struct {
	Name, Label  string
	PerK         Figure // expansion at room temperature, 1/K
	HotPerK      Figure // mean from 20 to 450 C, 1/K
	Conductivity Figure // W/(m.K)
	Density      Figure // kg/m3
	Capacity     Figure // J/(kg.K)
}

// Effusivity is sqrt(k rho cp), W.s^0.5/(m2.K).
func (m Material) Effusivity() float64 {
	return math.Sqrt(m.Conductivity.Value * m.Density.Value * m.Capacity.Value)
}

const (
	callister = "Callister, table B.6, found"
	memory    = "from memory"
)

// materials are what moulds of this trade are made of. Where sources differ the
// source says so.
var materials = []Material{
	{"cast-iron", "grey cast iron",
		Figure{11.4e-6, callister + "; others 9 to 10.8"}, Figure{12.5e-6, memory},
		Figure{50, memory}, Figure{7200, memory}, Figure{480, memory}},
	{"steel-304", "stainless steel 304",
		Figure{17.2e-6, callister}, Figure{18.0e-6, memory},
		Figure{14.9, memory}, Figure{7900, memory}, Figure{477, memory}},
	{"brass", "brass C26000",
		Figure{19.9e-6, callister + "; C36000 20.5"}, Figure{19.9e-6, "room temperature's, no hot figure known"},
		Figure{110, memory}, Figure{8530, memory}, Figure{380, memory}},
	{"graphite", "moulded graphite",
		Figure{4e-6, memory + "; grades have 2 to 6, ask the maker's sheet"},
		Figure{4e-6, memory + "; grades have 2 to 6, ask the maker's sheet"},
		Figure{100, memory}, Figure{1800, memory}, Figure{710, memory + "; at 25 C, rises when hot"}},
}

// Names lists the materials.
func Names() []string {
	names := make([]string, len(materials))
	for i, m := range materials {
		names[i] = m.Name
	}
	return names
}

// Named finds a material by its name.
func Named(name string) (Material, error) {
	for _, m := range materials {
		if m.Name == name {
			return m, nil
		}
	}
	return Material{}, fmt.Errorf("no mould material %q; one of %s", name, strings.Join(Names(), ", "))
}
