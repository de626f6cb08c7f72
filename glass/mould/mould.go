// Package mould computes how warm a mould may be for a glass, how it warms over
// a run of pieces, and how large it is cut cold for a piece of a wanted size.
//
// It never says that a mould is safe to touch or to close, and its limits of
// sticking and chill are common practice without a published number: they are
// where to start, the first pieces decide.
//
// Temperatures are degrees Celsius, lengths mm, the rest SI as each name says.
// Start reading at Window in window.go; the run of pieces is in warming.go, cold
// dimensions in size.go, what moulds are made of in table.go.
package mould

import "pressrig/glass/span"

func ofCelsius(what string, c float64) span.Of {
	return span.Of{What: what, Value: c, Least: -50, Most: 2000}
}
func ofEffusivity(what string, e float64) span.Of {
	return span.Of{What: what + " in W.s^0.5/(m2.K)", Value: e, Least: 10, Most: 1e5}
}
func ofExpansion(what string, perK float64) span.Of {
	return span.Of{What: what + " in 1/K", Value: perK, Least: 1e-7, Most: 5e-5}
}
