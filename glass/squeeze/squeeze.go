// Package squeeze computes what a press does to hot glass: how much force a
// speed needs, how long a stroke takes while the skin chills on both mould
// faces, and whether holes and edges fill before it freezes.
//
// It never moves a press, and its end of a stroke is no limit switch: over-force
// here is a figure of a plan, the rig's own limits are hardware. Glass is taken
// as Newtonian, without slip and without inertia, between parallel faces.
//
// SI units as each name says, temperatures degrees Celsius. Start reading at
// Gap in gap.go, the closed formulas, and at Close in stroke.go, the stroke; what
// fills the gap is a Fluid, in chill.go; holes and edges are in pocket.go, the
// freezing limit in freeze.go.
package squeeze

import "pressrig/glass/span"

func ofViscosity(eta float64) span.Of {
	return span.Of{What: "viscosity in Pa.s", Value: eta, Least: 1e-2, Most: 1e18}
}
func ofRadius(what string, m float64) span.Of {
	return span.Of{What: what + " in m", Value: m, Least: 1e-5, Most: 1}
}
func ofThickness(what string, m float64) span.Of {
	return span.Of{What: what + " in m", Value: m, Least: 1e-6, Most: 1}
}
func ofSpeed(mPerS float64) span.Of {
	return span.Of{What: "speed in m/s", Value: mPerS, Least: 1e-9, Most: 10}
}
func ofForce(n float64) span.Of {
	return span.Of{What: "force in N", Value: n, Least: 1e-6, Most: 1e7}
}
func ofPressure(pa float64) span.Of {
	return span.Of{What: "pressure in Pa", Value: pa, Least: 1e-3, Most: 1e9}
}
func ofVolume(m3 float64) span.Of {
	return span.Of{What: "volume in m3", Value: m3, Least: 1e-12, Most: 1}
}
