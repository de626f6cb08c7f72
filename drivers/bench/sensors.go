package bench

import (
	"math"

	"pressrig/safety/warden"
)

// Numbers of the sensors [common practice, no source].
const (
	glassLowC     = 300.0 // radiation thermometer's range where the profile has none
	glassHighC    = 1200.0
	glassTauS     = 0.030
	glassNoiseC   = 1.0
	glassEveryMs  = 5  // a new sample
	slowEveryMs   = 10 // thermocouples, flows, pressures
	flameBiasC    = 35.0
	shadowMM      = 12.0 // room below which the closing mould hides the glass
	fuelBar       = 0.34 // usual bench pressures, about 5 psi
	oxygenBar     = 0.85 // 10 to 15 psi
	lowShare      = 0.5  // switches, share of the usual pressure
	highShare     = 1.6
	travelNoiseMM = 0.01
	forceNoiseN   = 0.3
)

// panelInputs is what a person has set at the rig: buttons for how long, door
// and emergency stop.
type panelInputs struct {
	leftMs   [NumButtons]uint32 // still pressed this long
	doorOpen bool
	estop    bool // pressed and latched
	setUp    bool // key switch
}

// sensors turns the plant into warden.Input, with its lags and noise.
type sensors struct {
	view   bool    // the thermometer looks past the flame: flame_aside
	lowC   float64 // its range
	highC  float64
	glassC float64
	ageMs  uint16
	in     warden.Input // newest, before faults
	openMM float64
	endMM  float64
	overN  float64
}

func clampInt16(v float64) int16 {
	return int16(math.Round(min(32767, max(-32768, v))))
}

// step reads the plant into s.in.
func (s *sensors) step(p *plant, hands *panelInputs, up *upsets) {
	s.in.Bits = s.switches(p, hands, up)
	s.fast(p, up)
	s.thermometer(p)
	if p.ms%slowEveryMs == 0 {
		s.slow(p)
	}
}

func bit(on bool, b uint32) uint32 {
	if on {
		return b
	}
	return 0
}

func (s *sensors) switches(p *plant, hands *panelInputs, up *upsets) uint32 {
	fuelShare, oxygenShare := p.gas.fuelLine.share, p.gas.oxygenLine.share
	bits := warden.InChuckClamped | warden.InMainsOK
	bits |= bit(!hands.estop, warden.InEstopOK) |
		bit(!hands.doorOpen, warden.InDoorClosed) |
		bit(hands.setUp, warden.InSetUp) |
		bit(p.chains.made, warden.InWatchdogOK) |
		bit(p.gas.seen, warden.InFlame) |
		bit(p.fan.proven, warden.InExtraction) |
		bit(fuelShare < lowShare, warden.InFuelLow) |
		bit(fuelShare > highShare, warden.InFuelHigh) |
		bit(oxygenShare < lowShare, warden.InOxygenLow) |
		bit(oxygenShare > highShare, warden.InOxygenHigh)
	bits |= bit(p.press.travelMM <= s.openMM, warden.InPressOpen) |
		bit(p.press.travelMM >= s.endMM, warden.InPressEnd) |
		bit(p.slide.atBlank(), warden.InBurnerAtBlank) |
		bit(p.slide.clear(), warden.InBurnerClear) |
		bit(!p.gas.fuel1.open && !p.gas.fuel2.open, warden.InFuelShut) |
		bit(!p.gas.oxygen.open, warden.InOxygenShut) |
		bit(p.spindle.indexed(), warden.InIndexed) |
		bit(p.press.forceN > s.overN, warden.InOverForce)
	for b := range hands.leftMs {
		if hands.leftMs[b] > 0 {
			bits |= buttonBits[b]
		}
	}
	return bits&^up.handOff | up.handOn
}

func (s *sensors) fast(p *plant, up *upsets) {
	s.put(warden.AiTravel, 100*(p.press.travelMM+travelNoiseMM*p.rnd.spread()))
	s.put(warden.AiForce, 10*(p.press.forceN+forceNoiseN*p.rnd.spread()))
	s.put(warden.AiSpindle, 10*p.spindle.rpm*up.spindleShown*(1+0.003*p.rnd.spread()))
}

func (s *sensors) put(ai uint8, counts float64) {
	s.in.Analog[ai] = clampInt16(counts)
	s.in.AnalogOK |= 1 << ai
}

// thermometer sees the skin through its lag, flame-biased while the burner
// stands in its line of sight, and nothing once the mould is in the way.
func (s *sensors) thermometer(p *plant) {
	seen := p.state.SkinC
	if s.view && p.gas.lit && !p.slide.clear() {
		seen += flameBiasC * p.gas.powerKW() * p.slide.at
	}
	s.glassC += (seen - s.glassC) * (0.001 / glassTauS)
	if s.ageMs < math.MaxUint16 {
		s.ageMs++
	}
	if p.ms%glassEveryMs == 0 && p.press.gapMM() >= p.state.HeightMM+shadowMM {
		s.ageMs = 0
		shown := min(s.highC, max(s.lowC, s.glassC+glassNoiseC*p.rnd.spread()))
		s.put(warden.AiGlass, 10*shown)
	}
	if s.ageMs > 2*glassEveryMs || s.glassC < s.lowC || s.glassC > s.highC {
		s.in.AnalogOK &^= 1 << warden.AiGlass
	}
	s.in.GlassAgeMs = s.ageMs
}

func (s *sensors) slow(p *plant) {
	r := &p.rnd
	s.put(warden.AiMouldLower, 10*(p.moulds.lowerC+0.2*r.spread()))
	s.put(warden.AiMouldUpper, 10*(p.moulds.upperC+0.2*r.spread()))
	s.put(warden.AiFuelFlow, p.gas.fuelMl*(1+0.005*r.spread()))
	s.put(warden.AiOxygenFlow, p.gas.oxygenMl*(1+0.005*r.spread()))
	s.put(warden.AiFuelPressure, 1000*fuelBar*p.gas.fuelLine.share*(1+0.01*r.spread()))
	s.put(warden.AiOxygenPressure, 1000*oxygenBar*p.gas.oxygenLine.share*(1+0.01*r.spread()))
}
