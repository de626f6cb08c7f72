package glass

import "pressrig/units"

// Confidence tells how far a figure may be trusted.
type Confidence string

// Confidences from the best to the least.
const (
	Found   Confidence = "found"       // read in the source itself
	Derived Confidence = "derived"     // computed from others
	Memory  Confidence = "from memory" // nobody looked it up: the maker's sheet stands above it
)

// Origin tells where a figure comes from.
type Origin struct {
	Source     string
	Confidence Confidence
}

// Figure is one known number of a glass.
type Figure struct {
	Key   string // as in a glass file
	Value float64
	Unit  string // "" for a plain number
	Origin
}

// property is a number that a glass file has or may have.
type property struct {
	key         string
	in          units.Dimension // "" for a plain number
	least, most float64         // in the base unit; beyond them a figure is absurd
	needed      bool
	right       string
	of          func(*Glass) *float64
}

var properties = []property{
	{"softening", units.Temperature, 300, 1800, false, "write the Littleton softening point",
		func(g *Glass) *float64 { return (*float64)(&g.SofteningC) }},
	{"annealing", units.Temperature, 200, 1300, true, "write the annealing point of the maker's sheet",
		func(g *Glass) *float64 { return (*float64)(&g.AnnealingC) }},
	{"strain", units.Temperature, 150, 1250, true, "write the strain point of the maker's sheet",
		func(g *Glass) *float64 { return (*float64)(&g.StrainC) }},
	{"working", units.Temperature, 400, 2200, false, "write the working point",
		func(g *Glass) *float64 { return (*float64)(&g.WorkingC) }},
	{"density", units.Density, 1800, 8000, true, "write it like 2500 kg/m3",
		func(g *Glass) *float64 { return &g.DensityKgM3 }},
	{"young", units.Stress, 20e3, 200e3, true, "write Young's modulus like 70 GPa",
		func(g *Glass) *float64 { return &g.YoungMPa }},
	{"poisson", "", 0.05, 0.45, true, "write Poisson's ratio like 0.22",
		func(g *Glass) *float64 { return &g.Poisson }},
	{"expansion", units.Expansion, 0.1e-6, 30e-6, true, "write it like 9.3e-6 /K",
		func(g *Glass) *float64 { return &g.ExpansionPK }},
	{"conductivity", units.Conductivity, 0.2, 5, false, "write that of cold glass, like 0.94 W/(m.K)",
		func(g *Glass) *float64 { return &g.ConductivityWmK }},
	{"stress_optical", units.StressOptic, -5e-12, 10e-12, true, "write it like 2.6e-12 /Pa",
		func(g *Glass) *float64 { return &g.OpticalPPa }},
	{"emissivity", "", 0.1, 1, true, "write the total one of long waves, like 0.85",
		func(g *Glass) *float64 { return &g.Emissivity }},
	{"surface_tension", units.Tension, 0.05, 1, true, "write it like 0.315 N/m",
		func(g *Glass) *float64 { return &g.TensionNm }},
	{"mean_strength", units.Stress, 1, 2000, false, "",
		func(g *Glass) *float64 { return &g.MeanStrengthMPa }},
	{"design_strength", units.Stress, 1, 1000, false, "",
		func(g *Glass) *float64 { return &g.DesignStrengthMPa }},
}

// Figures lists every number that is known of the glass apart from the
// constants of its curve and its composition, which Origin tells of.
func (g *Glass) Figures() []Figure {
	var out []Figure
	for _, p := range properties {
		if o, known := g.origins[p.key]; known {
			out = append(out, Figure{p.key, *p.of(g), units.Base(p.in), o})
		}
	}
	return out
}

// Origin tells where what stands under a key of the glass file comes from:
// curve, composition or one of Figures; false when it is not known.
func (g *Glass) Origin(key string) (Origin, bool) {
	o, known := g.origins[key]
	return o, known
}
