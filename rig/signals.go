package rig

import (
	"math"

	"pressrig/safety/warden"
	"pressrig/units"
)

// Counts of the board's converter for a 4-20 mA transmitter: 10 bits over 5 V,
// across 220 ohm. Beyond least and most the wire is broken or shorted, or the
// transmitter says that it is.
const (
	LoopLeast = 172 // 3.8 mA
	LoopZero  = 180 // 4 mA
	LoopFull  = 901 // 20 mA
	LoopMost  = 945 // 21 mA
)

// Set-points, in the order of the board's block.
const (
	SetFuel = iota
	SetOxygen
	SetSpindle
	SetSpeed
	SetForce
	NumSetPoints
)

// SetPoint is a value that the board asks of a controller outside.
type SetPoint struct {
	Name  string // key under signals
	Label string
	Dim   units.Dimension
	Scale float64 // base unit of one count
}

// SetPoints are the values that the board asks for.
var SetPoints = [NumSetPoints]SetPoint{
	SetFuel:    {"set_fuel", "fuel flow", units.Flow, 0.001},
	SetOxygen:  {"set_oxygen", "oxygen flow", units.Flow, 0.001},
	SetSpindle: {"set_spindle", "spindle speed", units.Rotation, 0.1},
	SetSpeed:   {"set_speed", "press speed", units.Speed, 0.01},
	SetForce:   {"set_force", "press force", units.Force, 0.1},
}

// Signals is how the rig's values look on the wires to the board. What stands
// in the board's configuration says what is allowed; this says what a current
// or a pulse means. A wrong figure here makes every limit wrong: measure.
type Signals struct {
	Given bool                   // the profile has the section
	Loops [warden.NumAnalog]Loop // zero where nothing is fitted, and of travel
	Step  units.Millimetre       // of the press encoder, one count; 0 without one
	Full  [NumSetPoints]float64  // base unit at full pulse; 0: not driven
}

// Loop is a transmitter's range, in the base unit of its channel.
type Loop struct{ At4, At20 float64 }

// at is what the transmitter means at counts of the converter.
func (l Loop) at(counts int) float64 {
	return l.At4 + (l.At20-l.At4)*float64(counts-LoopZero)/(LoopFull-LoopZero)
}

// travelsAs16 reports whether v, in units of scale, travels in 16 bits signed.
func travelsAs16(v, scale float64) bool {
	v /= scale
	return v >= math.MinInt16 && v <= math.MaxInt16
}
