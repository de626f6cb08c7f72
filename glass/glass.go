// Package glass has what is known of the glasses that stems are made of: their
// fixed points, their properties and how their viscosity falls with
// temperature, from constants, from three points or from the composition.
//
// It never talks to a rig and never decides: a figure marked as memory is a
// place to start from, and the maker's data sheet stands above it. Temperatures
// are in degrees Celsius, viscosities are log10 of Pa.s (one less than log10 of
// poise, the commonest fault of sources). Start reading at Glass; the glasses
// themselves are the files in data, read by parse.go (FORMAT.md), the curve is
// in vft.go.
package glass

import "pressrig/units"

// Viscosity at the fixed points, log10 of Pa.s. ISO 7884, ASTM C338, ASTM C336.
const (
	LogWorking   = 3.0  // working point
	LogSoftening = 6.6  // Littleton softening point; 6.65 in some sources
	LogAnnealing = 12.0 // annealing point
	LogStrain    = 13.5 // strain point; never an input of a viscosity curve
)

// Limits between which a curve may be used, log10 of Pa.s: above are melts that
// no press sees, below the glass is no longer in equilibrium and the
// Vogel-Fulcher-Tammann equation does not hold (ISO 7884-7).
const (
	LogLeast = 1.0
	LogMost  = 12.0
)

// Glass is one glass. The fixed points are what a data sheet gives, the curve
// is a field of its own: an annealing point is not the temperature of 10^12
// Pa.s of the curve (SRM 710: 546 and 556 C). A figure that is not known is 0;
// Figures tells of every one that is known where it comes from.
type Glass struct {
	Name   string // as in recipes
	Label  string // for people
	Source string // of the figures, with a plain word when it is memory

	SofteningC units.Celsius
	AnnealingC units.Celsius
	StrainC    units.Celsius
	WorkingC   units.Celsius

	Curve VFT
	// Lead marks a glass with lead oxide, which a reducing flame turns grey.
	Lead bool

	DensityKgM3       float64
	YoungMPa          float64
	Poisson           float64
	ExpansionPK       float64 // linear, 1/K, from room temperature to about 300 C
	ConductivityWmK   float64 // cold
	OpticalPPa        float64 // stress-optical constant, 1/Pa
	Emissivity        float64 // total, long wave
	TensionNm         float64 // surface tension, N/m
	MeanStrengthMPa   float64 // of annealed glass
	DesignStrengthMPa float64
	MolPercent        Composition // nil when it is not known

	origins map[string]Origin // by the key of the glass file; never written after Parse
}

// LogViscosityPaS is log10 of the viscosity in Pa.s at c degrees Celsius. It
// is to be believed between LogLeast and LogMost only, and is +Inf at and
// below the curve's T0.
func (g Glass) LogViscosityPaS(c float64) float64 { return g.Curve.Log(c) }

// AtLogViscosity is the temperature in degrees Celsius at which the viscosity
// is 10^log Pa.s; believe it for log between LogLeast and LogMost only.
func (g Glass) AtLogViscosity(log float64) float64 { return g.Curve.At(log) }
