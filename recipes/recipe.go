package recipes

import (
	"time"

	"pressrig/glass"
	"pressrig/units"
	"pressrig/yamlfile"
)

// Recipe is one checked recipe. Parse is the only way to make one, so what
// holds after Parse is relied upon everywhere else.
type Recipe struct {
	Name     string // letters, digits and -, as its file is called
	Note     string
	Standing string       // how far the numbers are to be trusted: "guess" or "proven on <rig>, <date>"
	Glass    string       // its name
	Known    *glass.Glass // what Glass names; nil without one
	Blank    Blank
	Moulds   Moulds
	Window   Window
	Resume   int           // index of the phase that Restart re-enters
	Longest  time.Duration // whole cycle, arming included
	Assisted bool          // the person works valves and lever; runs without a microcontroller
	Phases   []Phase

	Text     []byte            // as read, frozen into the cycle
	Hash     [32]byte          // SHA-256 of Text
	Warnings yamlfile.Problems // what is allowed but doubtful, in the order of the file
}

// Blank is the ring cut from tubing.
type Blank struct {
	Outer, Inner, Length units.Millimetre
}

// Moulds names the two halves and how warm they must be at the start.
type Moulds struct {
	Lower, Upper   string
	LowerC, UpperC units.Celsius
	Band           units.Kelvin // +- about LowerC and UpperC; 0: not checked
}

// Window is the glass temperature inside which the stroke may begin. Zero both
// ends means that the recipe makes no stroke.
type Window struct {
	Low, High units.Celsius
}

// Kind is what a phase is for. It decides what a hold does and what the
// checker demands; the set-points are the phase's own.
type Kind string

// The kinds, in the order of a normal cycle.
const (
	Load      Kind = "load"       // hands in, before START: seat the blank
	Hands     Kind = "hands"      // hands in, within the cycle: pins, tube
	WarmMould Kind = "warm_mould" // moulds to their band, no glass
	Light     Kind = "light"      // purge, trial, flame proven, burner clear
	Warm      Kind = "warm"       // soft flame so that the blank does not crack
	Fire      Kind = "fire"       // sharp flame
	Soak      Kind = "soak"       // surface and core meet
	Clear     Kind = "clear"      // burner aside, spindle to its press state
	Press     Kind = "press"      // approach, contact, form
	Set       Kind = "set"        // light dwell
	Part      Kind = "part"       // open slowly, watch the pull
	SoftFlame Kind = "soft_flame" // back at the piece within seconds
	FlameCool Kind = "flame_cool" // step down
	Out       Kind = "out"        // burner clear or off before unloading
	Unload    Kind = "unload"     // hands in: to the annealing oven, piece-out check
)

// Phase is one step of a recipe.
type Phase struct {
	Name   string // unique in the recipe
	Kind   Kind
	Line   int    // of the file, for messages
	Prompt string // what the operator is asked or told; "" for none
	Flame  Flame
	// SpindleRPM is the set-point; SpindleKeep keeps the phase before's.
	SpindleRPM  units.RPM
	SpindleKeep bool
	Press       Stroke
	End         End
	Longest     time.Duration // always > 0
	Late        Late          // what happens when Longest runs out
	OnHold      OnHold
	Bands       []Band
}

// Place is where the burner stands.
type Place string

// Burner places.
const (
	AtBlank   Place = "blank"
	AtClear   Place = "clear"
	PlaceKeep Place = ""
)

// Flame is what the burner does in a phase.
type Flame struct {
	Lit    bool // false: shut (oxygen first, then fuel)
	At     Place
	Fuel   units.LitrePerMinute
	Oxygen units.LitrePerMinute // 0: fuel alone
	// HoldC, when HasHold, is a glass temperature held by trimming fuel about
	// Fuel by at most Trim (a share of Fuel) at the oxygen ratio Oxygen/Fuel.
	HasHold bool
	HoldC   units.Celsius
	Trim    units.Percent
}

// Do is a press action.
type Do string

// Press actions.
const (
	DoStay  Do = "stay"
	DoClose Do = "close" // to To at Speed, at most Force
	DoForce Do = "force" // with Force, to a stop at To
	DoOpen  Do = "open"  // to To at Speed
)

// Stroke is what the press does in a phase.
type Stroke struct {
	Do    Do
	To    units.Millimetre // travel from open
	Speed units.MillimetrePerSecond
	Force units.Newton
}

// End is how a phase ends by itself: the first that comes true.
type End struct {
	Least  time.Duration // not before
	After  time.Duration // by time, 0: not
	When   *Condition    // by a channel or a switch, nil: not
	Soft   bool          // by the operator's SOFT button
	Answer bool          // by the operator's answer to Prompt
	Lit    bool          // flame proven (kind light)
	There  bool          // movement done: burner at its place, press at its target
}

// Condition compares a channel with a value, or watches a switch, for a while.
type Condition struct {
	Channel string // a rig.Analogs name, or "" for a switch
	AI      uint8
	AtLeast bool    // true >=, false <=
	Value   float64 // base unit of the channel
	Count   int16   // Value in counts
	Switch  uint32  // warden.In... bit, 0 for a channel
	On      bool    // wanted state of the switch
	For     time.Duration
}

// Late is what happens when a phase takes its longest.
type Late string

// What may happen.
const (
	LateNext  Late = "next"
	LateHold  Late = "hold"
	LateStop  Late = "stop"
	LateAbort Late = "abort"
)

// OnHold is what a hold does with soft glass in this phase.
type OnHold struct {
	KeepWarm bool // soft flame at the piece for For, then cool; else cool at once
	Fuel     units.LitrePerMinute
	For      time.Duration // at most 120 s
}

// Band is a channel's range that must hold meanwhile.
type Band struct {
	Channel   string
	AI        uint8
	Low, High float64 // base unit
	LowCount  int16
	HighCount int16
	Grace     time.Duration // outside for longer than this is a fault
	Fault     Late          // LateHold, LateStop or LateAbort
}

// Strokes reports whether any phase closes the press.
func (r *Recipe) Strokes() bool { return r.FirstStroke() < len(r.Phases) }

// FirstStroke is the index of the first phase that closes the press, or the
// number of phases.
func (r *Recipe) FirstStroke() int {
	for i := range r.Phases {
		if d := r.Phases[i].Press.Do; d == DoClose || d == DoForce {
			return i
		}
	}
	return len(r.Phases)
}
