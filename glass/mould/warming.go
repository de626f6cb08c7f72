package mould

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// HeatOfPiece is the heat that a piece gives to its moulds while its mean falls
// from one temperature to another, J. capacity is the mean over that range.
func HeatOfPiece(massKg, fromC, toC, capacity float64) (float64, error) {
	if err := span.Check(span.Of{What: "mass in kg", Value: massKg, Least: 1e-5, Most: 10},
		ofCelsius("start in C", fromC),
		span.Of{What: "end in C, which lies below the start,", Value: toC, Least: -50, Most: fromC},
		span.Of{What: "heat capacity in J/(kg.K)", Value: capacity, Least: 100, Most: 5000}); err != nil {
		return 0, err
	}
	return massKg * capacity * (fromC - toC), nil
}

// RisePerPieceK is how far a heat warms a mould half, taken as even.
func RisePerPieceK(heatJ, mouldKg, mouldCapacity float64) (float64, error) {
	if err := span.Check(span.Of{What: "heat in J", Value: heatJ, Least: 0, Most: 1e7},
		span.Of{What: "mass of the mould in kg", Value: mouldKg, Least: 0.01, Most: 1000},
		span.Of{What: "heat capacity of the mould in J/(kg.K)", Value: mouldCapacity, Least: 100,
			Most: 5000}); err != nil {
		return 0, err
	}
	return heatJ / (mouldKg * mouldCapacity), nil
}

// Warming is a mould half over a run: each piece warms it by a step, between
// pieces it falls back to where it would rest without any.
type Warming struct {
	RestC     float64 // without pieces, as its own heating holds it
	RisePerK  float64 // K a piece
	ConstantS float64 // time constant of falling back
	CycleS    float64 // from piece to piece
}

func (w Warming) check() error {
	return span.Check(ofCelsius("resting mould in C", w.RestC),
		span.Of{What: "rise a piece in K", Value: w.RisePerK, Least: 0, Most: 500},
		span.Of{What: "time constant in s", Value: w.ConstantS, Least: 1, Most: 1e6},
		span.Of{What: "cycle in s", Value: w.CycleS, Least: 1, Most: 1e6})
}

// left is the share of an excess that is left after a cycle.
func (w Warming) left() float64 { return math.Exp(-w.CycleS / w.ConstantS) }

// BeforeC is the mould just before the piece that follows a number of them,
// for a mould that began at startC: theta r^n + rise (r + r^2 + ... + r^n).
func (w Warming) BeforeC(startC float64, pieces int) (float64, error) {
	if err := w.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofCelsius("mould at the start in C", startC),
		span.Of{What: "number of pieces", Value: float64(pieces), Least: 0, Most: 1e6}); err != nil {
		return 0, err
	}
	settles, _ := w.SettlesC() // checked above
	return settles + (startC-settles)*math.Pow(w.left(), float64(pieces)), nil
}

// SettlesC is the mould before each piece of an endless run.
func (w Warming) SettlesC() (float64, error) {
	if err := w.check(); err != nil {
		return 0, err
	}
	return w.RestC + w.RisePerK/math.Expm1(w.CycleS/w.ConstantS), nil
}

// PiecesTo is how many pieces bring a mould from startC to within bandK of where
// it settles: dummies that should not be counted as pieces.
func (w Warming) PiecesTo(startC, bandK float64) (int, error) {
	settles, err := w.SettlesC()
	if err != nil {
		return 0, err
	}
	if err := span.Check(ofCelsius("mould at the start in C", startC),
		span.Of{What: "band in K", Value: bandK, Least: 0.1, Most: 500}); err != nil {
		return 0, err
	}
	off := math.Abs(startC - settles)
	if off <= bandK {
		return 0, nil
	}
	return int(math.Ceil(math.Log(off/bandK)*w.ConstantS/w.CycleS - 1e-9)), nil
}

// RestFor is where the mould's own heating must hold it so that it settles at
// wantC with pieces running.
func (w Warming) RestFor(wantC float64) (float64, error) {
	settles, err := w.SettlesC()
	if err != nil {
		return 0, err
	}
	rest := wantC - (settles - w.RestC)
	if err := span.Check(ofCelsius("wanted mould in C", wantC)); err != nil {
		return 0, err
	}
	if rest < 20 {
		return 0, fmt.Errorf("pieces every %g s alone hold the mould %.0f K above its rest, more than %g C "+
			"wants; leave more time between pieces or cool the mould", w.CycleS, settles-w.RestC, wantC)
	}
	return rest, nil
}
