package plan

import (
	"fmt"
	"math"

	"pressrig/glass/forming"
	"pressrig/glass/heat"
	"pressrig/rig"
)

// spin is how fast the chuck turns, and the window of the hot ring.
type spin struct {
	warmRPM, fireRPM, soakRPM, pressRPM, coolRPM float64
	lowRPM, highRPM                              float64
}

// Limits of the window [common practice, no source].
const (
	rippleK    = 120.0 // swing of the surface each turn
	arcShare   = 0.25  // of the way round that meets the flame
	growShare  = 0.02  // by which the soft ring may widen
	sagShare   = 0.1   // strain of a soft ring in a turn on a level spindle
	usualRPM   = 60.0
	warmFaster = 10.0
	coolRPM    = 30.0
)

// turning finds the spindle's window: fast enough that a turn evens the flame
// out, slow enough that the soft ring does not widen.
func (b *bench) turning() error {
	r := b.job.Ring
	flux := b.fluxWM2(b.firing.fire, float64(b.glass.StrainC))
	k := b.job.Material.KWmK(b.targetC)
	kappa := k / (b.job.Material.DensityKgM3 * b.job.Material.CpJkgK(b.targetC))
	sag := 0.0
	if b.profile.Axis == "horizontal" {
		sag = sagShare
	}
	w, err := heat.Turning{Density: b.job.Material.DensityKgM3, Radius: r.OuterMM / 2000,
		Viscosity: math.Pow(10, b.glass.LogViscosityPaS(b.targetC)), Conductivity: k, Diffusivity: kappa,
		Flux: flux, Arc: arcShare, Ripple: rippleK, Sag: sag, Geometry: 1, Growth: growShare, Seconds: b.firing.soakS}.Speeds()
	if err != nil {
		return err
	}
	low, high := w.Least, w.Most
	b.spinBy = [2]string{w.LeastBy, w.MostBy}
	p := &b.profile.Spindle
	if p.Fitted == rig.NotFitted {
		b.spin = spin{lowRPM: low, highRPM: high}
		return nil
	}
	s := spin{lowRPM: math.Max(low, float64(p.Heat)), highRPM: math.Min(high, float64(p.Max))}
	if s.lowRPM > s.highRPM {
		b.warn("spindle: below %.0f rpm a turn shows in the surface, above %.0f rpm the soft ring widens; the plan keeps to the second figure",
			s.lowRPM, s.highRPM)
	}
	hot := math.Max(float64(p.Heat), math.Min(math.Max(usualRPM, s.lowRPM), s.highRPM))
	s.fireRPM = round(hot, 5)
	if s.lowRPM <= s.highRPM && (s.fireRPM < s.lowRPM || s.fireRPM > s.highRPM) {
		s.fireRPM = (s.lowRPM + s.highRPM) / 2
	}
	s.warmRPM = math.Min(float64(p.Max), s.fireRPM+warmFaster)
	s.soakRPM = math.Max(float64(p.Heat), round(0.75*hot, 5))
	s.coolRPM = math.Max(float64(p.Heat), coolRPM)
	if p.AtPress == "turning" {
		s.pressRPM = math.Max(float64(p.PressLow), math.Min(s.soakRPM, float64(p.PressHigh)))
	}
	b.spin = s
	return nil
}

// fluxWM2 is the mean flux of a flame onto the outside of a ring at a surface
// temperature.
func (b *bench) fluxWM2(f flame, surfaceC float64) float64 {
	wPerK, c := forming.FlameAt(f.fuel, f.oxygen)
	r := b.job.Ring
	outside := math.Pi * r.OuterMM * r.LengthMM * 1e-6
	return forming.SideShare * wPerK * (c - surfaceC) / outside
}

func (b *bench) warn(format string, a ...any) {
	b.warnings = append(b.warnings, fmt.Sprintf(format, a...))
}
