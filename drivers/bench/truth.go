package bench

import (
	"pressrig/glass/forming"
	"pressrig/safety/warden"
)

// Truth is what a perfect observer of the bench sees: never a reading, always
// the thing itself. For tests and for the bench's own page.
type Truth struct {
	Ms      uint64 `json:"ms"`      // since the rig began
	Session uint32 `json:"session"` // of the microcontroller

	Flame       bool    `json:"flame"`
	FuelOpen    bool    `json:"fuel_open"` // gas can pass both fuel valves
	OxygenOpen  bool    `json:"oxygen_open"`
	FuelMl      float64 `json:"fuel_ml"` // mL/min leaving the burner
	OxygenMl    float64 `json:"oxygen_ml"`
	UnburntMs   uint64  `json:"unburnt_ms"`    // fuel without flame, all
	Unburnt30Ms uint32  `json:"unburnt_30_ms"` // in the last 30 s
	WorstMs     uint32  `json:"worst_30_ms"`   // most in any 30 s so far
	Extraction  float64 `json:"extraction"`    // share of full flow
	BetweenBar  float64 `json:"between_bar"`   // gauge at the test cock between the fuel valves

	SkinC    float64 `json:"skin_c"`
	CoreC    float64 `json:"core_c"`
	MeanC    float64 `json:"mean_c"`
	HeightMM float64 `json:"height_mm"`
	Gathered float64 `json:"gathered"`
	LogPaS   float64 `json:"log_pas"`
	LowerC   float64 `json:"lower_c"`
	UpperC   float64 `json:"upper_c"`

	TravelMM   float64 `json:"travel_mm"`
	ForceN     float64 `json:"force_n"`
	Touching   bool    `json:"touching"`
	PeakPullN  float64 `json:"peak_pull_n"`
	SpindleRPM float64 `json:"spindle_rpm"`
	Slide      float64 `json:"slide"` // 0 clear, 1 at the blank

	BusAV     float64 `json:"bus_a_v"`    // what a meter shows from XA to X0
	DoorPower bool    `json:"door_power"` // behind the door's safety relay: oxygen, slide, closing
	Horn      bool    `json:"horn"`
	LockLamp  bool    `json:"lock_lamp"`
	ReliefBar float64 `json:"relief_bar"` // pressure at which the press's relief valve opens; 0: none

	Out       uint16 `json:"out"` // warden.Out... as the actuators feel them
	In        uint32 `json:"in"`  // warden.In... as the warden sees them
	Burner    uint8  `json:"burner"`
	Press     uint8  `json:"press"`
	Spindle   uint8  `json:"spindle"`
	Link      uint8  `json:"link"`
	Lock      uint8  `json:"lock"`
	First     uint8  `json:"first"`
	Trips     uint64 `json:"trips"`
	NV        uint8  `json:"nv"`
	DoorOpen  bool   `json:"door_open"`
	Estop     bool   `json:"estop"`
	BadFrames uint16 `json:"bad_frames"`
	Dropped   uint32 `json:"dropped"` // whole frames lost to full queues
	Faults    int    `json:"faults"`  // waiting or acting

	FlameOutMs uint64 `json:"flame_out_ms"` // when the true flame last went out, 0 never
	FuelOffMs  uint64 `json:"fuel_off_ms"`  // when the fuel valve outputs last went off, 0 never
}

// moments are the times that a reaction is measured between, at the true flame
// and at the valve outputs, not at what anybody reports.
type moments struct {
	flame, fuel           bool
	flameOutMs, fuelOffMs uint64
}

func (m *moments) step(p *plant, outputs uint16) {
	if m.flame && !p.gas.lit {
		m.flameOutMs = p.ms
	}
	fuel := outputs&warden.OutFuel != 0
	if m.fuel && !fuel {
		m.fuelOffMs = p.ms
	}
	m.flame, m.fuel = p.gas.lit, fuel
}

// Truth is the rig now.
func (r *Rig) Truth() Truth {
	p, s, m := &r.plant, &r.plant.state, &r.mcu
	return Truth{
		Ms: p.ms, Session: m.session,
		Flame: p.gas.lit, FuelOpen: p.gas.fuel1.open && p.gas.fuel2.open,
		OxygenOpen: p.gas.oxygen.open, FuelMl: p.gas.fuelMl, OxygenMl: p.gas.oxygenMl,
		UnburntMs: p.gas.unburntMs, Unburnt30Ms: p.gas.inWindow, WorstMs: p.gas.worst,
		Extraction: p.fan.flow, BetweenBar: p.gas.seats.between * fuelBar,
		SkinC: s.SkinC, CoreC: s.CoreC, MeanC: s.MeanC, HeightMM: s.HeightMM,
		Gathered: s.Gathered, LogPaS: s.LogPaS, LowerC: p.moulds.lowerC, UpperC: p.moulds.upperC,
		TravelMM: p.press.travelMM, ForceN: p.press.forceN, Touching: p.press.touching,
		PeakPullN: p.press.peakPullN, SpindleRPM: p.spindle.rpm, Slide: p.slide.at,
		BusAV: p.chains.busV(&r.hands, &r.up), DoorPower: !r.hands.doorOpen || r.up.doorWelded,
		Horn: r.asked().Bits&warden.OutHorn != 0 && !r.up.hornDead, LockLamp: r.asked().Bits&warden.OutLockLamp != 0 && !r.up.lampDead,
		ReliefBar: p.press.reliefAt(&r.up),
		Out:       r.driven().Bits, In: m.in.Bits, Burner: m.state.Burner, Press: m.state.Press,
		Spindle: m.state.Spindle, Link: m.state.Link, Lock: m.state.Lock, First: m.state.First,
		Trips: m.state.Trips, NV: r.nv.Byte, DoorOpen: r.hands.doorOpen, Estop: r.hands.estop,
		BadFrames: m.badFrames, Dropped: m.dropped + r.toHost.dropped + r.toMCU.dropped,
		Faults: r.faults.n, FlameOutMs: r.moments.flameOutMs, FuelOffMs: r.moments.fuelOffMs,
	}
}

// Piece is the glass as a perfect inspection would find it now.
func (r *Rig) Piece() forming.Outcome { return r.plant.glass.Outcome() }

// Inspect looks at the glass with usual gauges. To look changes nothing, and to
// look again finds the same.
func (r *Rig) Inspect() forming.Inspection {
	c, outcome, cavity := r.rnd, r.Piece(), r.plant.glass.Cavity()
	return outcome.Inspect(cavity.Beads, cavity.BeadDepthMM, c.normal, c.share)
}

// Annealed is the piece after an oven; the one on the rig stays there.
func (r *Rig) Annealed(o *forming.Oven) forming.Outcome {
	g := r.plant.glass.Fork()
	g.Anneal(o)
	return g.Outcome()
}

// trueValue is the true value of an analog channel, base unit.
func (r *Rig) trueValue(ai uint8) float64 {
	p := &r.plant
	switch ai {
	case warden.AiGlass:
		return p.state.SkinC
	case warden.AiMouldLower:
		return p.moulds.lowerC
	case warden.AiMouldUpper:
		return p.moulds.upperC
	case warden.AiTravel:
		return p.press.travelMM
	case warden.AiForce:
		return p.press.forceN
	case warden.AiSpindle:
		return p.spindle.rpm
	case warden.AiFuelFlow:
		return p.gas.fuelMl / 1000
	case warden.AiOxygenFlow:
		return p.gas.oxygenMl / 1000
	case warden.AiFuelPressure:
		return fuelBar * p.gas.fuelLine.share
	}
	return oxygenBar * p.gas.oxygenLine.share
}
