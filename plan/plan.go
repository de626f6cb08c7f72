// Package plan turns a drawing into a first recipe: from piece, mould, tube,
// glass and rig it finds how long a ring to cut, how to warm and fire it, when
// and how hard to press, how long to hold and how to cool, says what limits
// each, and writes the recipe with its reasons.
//
// It never touches a rig and never promises a piece: what it stands on are
// formulas with their source and, where nothing was measured, usual figures of
// flame and contact, each told. A plan fitted to cycles of the real rig is a
// better one. Rehearse it, press dummies, compare. It is no safety device.
//
// It is pure: no clock, no file, no chance. Start reading at Make; firing.go,
// pressing.go, cooling.go and spin.go are the searches, march.go is the plant
// that they are tried on, figures.go what is told of it, recipe.go the file.
package plan

import (
	"fmt"
	"math"

	"pressrig/glass"
	"pressrig/glass/blank"
	gas "pressrig/glass/flame"
	"pressrig/glass/forming"
	"pressrig/glass/mould"
	"pressrig/rig"
)

// Order is what is to be pressed, of what, on what.
type Order struct {
	Name    string // of the recipe
	Profile *rig.Profile
	Glass   *glass.Glass
	Shape   Shape
	Tube    Tube
	Tune    forming.Tune // of a fitted plant; zero: usual figures
	Limits  forming.Limits
}

// Shape is what a plan needs of piece and mould, mm.
type Shape struct {
	Piece, Mould string // names
	Note         string
	VolumeMM3    float64 // glass of the piece without flash
	FlashShare   float64 // more of it, for flash
	Cavity       forming.Cavity
	ThinnestMM   float64
	ThickestMM   float64
	Pins         int
	Of           mould.Material
	LowerKg      float64 // mass of the lower half
	CoatK        float64 // what a coating allows more before the glass sticks, K
	Lower, Upper string  // names of the halves
}

// Tube is what the ring is cut from.
type Tube struct {
	Name     string
	Tube     blank.Tube
	SawTolMM float64 // +- of a cut
	LengthMM float64 // at hand
	HeldMM   float64 // of it that the saw keeps
	MouldMM  float64 // tallest ring that stands in the open mould
}

// Plan is what Make finds.
type Plan struct {
	Name     string
	Figures  []Figure
	Limits   []Limit
	Warnings []string
	Ring     forming.Ring
	Cavity   forming.Cavity
	Oven     forming.Oven
	Recipe   []byte
}

// Limit is what holds the plan back, and what would give it room.
type Limit struct {
	What    string `json:"what"`
	Relaxes string `json:"relaxes"`
}

// Make plans. It refuses what cannot be pressed, and says why.
func Make(o *Order) (*Plan, error) {
	b, err := begin(o)
	if err != nil {
		return nil, err
	}
	// The target moves the firing, and the firing the window, but little.
	for range 2 {
		if err := b.warming(); err != nil {
			return nil, err
		}
		if err := b.pressing(); err != nil {
			return nil, err
		}
		if math.Abs(b.window.bestC-b.targetC) < scanK/2 {
			break
		}
		b.targetC = b.window.bestC
	}
	if err := b.warming(); err != nil {
		return nil, err
	}
	if err := b.turning(); err != nil {
		return nil, err
	}
	b.pressed = b.asPressed()
	b.cool()
	return b.tell(o)
}

// begin weighs the order and sets what needs no search.
func begin(o *Order) (*bench, error) {
	material := forming.MaterialOf(o.Glass)
	ring, cut, err := o.cut(material.DensityKgM3)
	if err != nil {
		return nil, err
	}
	contact := forming.Usual()
	contact.Effusivity = o.Shape.Of.Effusivity()
	b := &bench{profile: o.Profile, glass: o.Glass, limits: o.Limits, cut: cut, thickestMM: o.Shape.ThickestMM,
		job: forming.Job{Material: material, Ring: ring, Cavity: o.Shape.Cavity, Contact: contact, Tune: o.Tune},
	}
	fuel, err := fuelOf(o.Profile.Gas.Fuel)
	if err != nil {
		return nil, err
	}
	b.fuel = fuel
	b.ratio = ratiosFor(fuel.OxygenPerFuel(), o.Glass.Lead, float64(o.Glass.SofteningC))
	if !o.Profile.Gas.Oxygen {
		return nil, fmt.Errorf("rig %s has no oxygen: its flame does not fire this glass", o.Profile.Name)
	}
	b.targetC = round(o.Glass.AtLogViscosity(firstLog), scanK)
	return b, b.warmMoulds(o)
}

// firstLog is where the search begins, log10 Pa.s.
const firstLog = 3.9

// fuelOf is the rig's gas in the words of package flame.
func fuelOf(name string) (gas.Fuel, error) {
	if name == "natural_gas" {
		name = "methane"
	}
	f, err := gas.Named(name)
	if err == nil && f.Name != gas.Propane.Name {
		err = fmt.Errorf("the flame of the simulated rig is propane's, this rig burns %s: nothing of it is known; "+
			"fit the plant to cycles of the rig, and plan on propane for a first guess", name)
	}
	return f, err
}
