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
	gas "pressrig/glass/flame"
	"pressrig/glass/forming"
	"pressrig/glass/mould"
	"pressrig/pieces"
	"pressrig/rig"
)

// Order is what is to be pressed, of what, in what, on what.
type Order struct {
	Name    string // of the recipe
	Profile *rig.Profile
	Glass   *glass.Glass
	Piece   *pieces.Piece
	Mould   *pieces.Mould
	Tube    *pieces.Tube
	Tune    forming.Tune // of a fitted plant; zero: usual figures
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
	Accept   forming.Limits // what the piece is accepted by
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
	return b.tell()
}

// begin weighs the order and sets what needs no search.
func begin(o *Order) (*bench, error) {
	material := forming.MaterialOf(o.Glass)
	if err := pieces.Together(o.Piece, o.Mould); err != nil {
		return nil, err
	}
	cut, err := pieces.CutBlank(o.Piece, o.Mould, o.Tube, material.DensityKgM3)
	if err != nil {
		return nil, err
	}
	of, err := mould.Named(o.Mould.Material)
	if err != nil {
		return nil, err
	}
	fuel, err := fuelOf(o.Profile.Gas.Fuel)
	if err != nil {
		return nil, err
	}
	if !o.Profile.Gas.Oxygen {
		return nil, fmt.Errorf("rig %s has no oxygen: its flame does not fire this glass", o.Profile.Name)
	}
	contact := forming.Usual()
	contact.Effusivity = of.Effusivity()
	ring := forming.Ring{OuterMM: o.Tube.OutsideMM, InnerMM: o.Tube.BoreMM, LengthMM: clean(round(cut.LengthMM, cutStepMM))}
	b := &bench{order: o, profile: o.Profile, glass: o.Glass, limits: Accept(o), cut: cut, of: of, fuel: fuel,
		job:     forming.Job{Material: material, Ring: ring, Cavity: Cavity(o), Contact: contact, Tune: o.Tune},
		ratio:   ratiosFor(fuel.OxygenPerFuel(), o.Glass.Lead, float64(o.Glass.SofteningC)),
		targetC: round(o.Glass.AtLogViscosity(firstLog), scanK),
	}
	if err := b.seals(); err != nil {
		return nil, err
	}
	return b, b.warmMoulds()
}

// cutStepMM: a saw's stop is not set finer [common practice, no source].
const cutStepMM = 0.05

// Cavity is the closed mould as the plant knows it: a plain disc of the same
// width and glass, with the bead holes.
func Cavity(o *Order) forming.Cavity {
	f := &o.Piece.Figures
	return forming.Cavity{RadiusMM: f.WidestMM, DiscMM: f.EvenMM, Beads: f.Pockets, BeadGapMM: f.PocketGapMM,
		BeadDepthMM: f.PocketDeepMM, BeadVolMM3: f.BeadMM3, GapMM: o.Mould.GapMM, RoughUM: o.Mould.RoughnessUM}
}

// Accept are the usual limits with the tolerances of the piece, and what a
// coated mould bears before it sticks.
func Accept(o *Order) forming.Limits {
	l := forming.UsualLimits()
	if t := o.Piece.Tolerance.ThicknessMM; t > 0 {
		l.ThicknessMM = t
	}
	if o.Piece.EdgeMM > 0 {
		l.EdgeMM = o.Piece.EdgeMM
	}
	if t, d := o.Piece.Tolerance.BeadHeightMM, o.Piece.Beads.DepthMM; t > 0 && d > 0 {
		l.BeadShare = 1 - min(0.5, t/d)
	}
	m := forming.MaterialOf(o.Glass)
	l.RetardNM = math.Round(m.OpticalPPa * acceptMPa * 1e6 * o.Piece.Figures.EvenMM * 1e6)
	if o.Mould.Carbon {
		l.StickK = mould.CautiousCoatK
	}
	return l
}

// acceptMPa: a good commercial anneal leaves less than 2 to 3 MPa [from memory].
const acceptMPa = 2.0

// firstLog is where the search begins, log10 Pa.s.
const firstLog = 3.9

// fuelOf is the rig's gas.
func fuelOf(name string) (gas.Fuel, error) {
	f, err := gas.Named(name)
	if err == nil && f.Name != gas.Propane.Name {
		err = fmt.Errorf("the flame of the simulated rig is propane's, this rig burns %s: nothing of it is known; "+
			"fit the plant to cycles of the rig, and plan on propane for a first guess", name)
	}
	return f, err
}
