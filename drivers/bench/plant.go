package bench

import (
	"math"

	"pressrig/glass/forming"
	"pressrig/safety/warden"
)

// Numbers of the flame at the blank, chosen so that the first recipes of the
// trade work out: soft flame to 450 C in 30 to 40 s, sharp flame to 900 C in
// 35 to 50 s [common practice, no source].
const (
	flameCoefW  = 0.105  // W/K into the ring at 1 L/min of fuel
	flamePower  = 0.90   // growth with fuel flow
	airFlameC   = 1250.0 // effective, fuel alone with room air
	oxyGainC    = 950.0  // more with oxygen
	oxyRise     = 3.2    // how fast it comes with oxygen over stoichiometric
	stoichiomet = 5.0    // oxygen to propane by volume: C3H8 + 5 O2
	slowMs      = 10     // thermal step
)

// plant is the machine and the glass, without the microcontroller.
type plant struct {
	gas     gas
	slide   slide
	fan     fan
	spindle spindle
	press   press
	moulds  moulds
	glass   *forming.Blank
	state   forming.State  // of glass, newest
	around  forming.Around // kept here so that a step allocates nothing
	rnd     chance
	ms      uint64
}

// step goes on by one millisecond under the outputs out.
func (p *plant) step(out *warden.Output, up *upsets) {
	p.ms++
	p.gas.step(out, up, &p.rnd)
	p.slide.step(out, up)
	p.fan.step(out, up)
	p.spindle.step(out, up)
	p.press.step(out, up, p.glass, &p.state)
	if p.ms%slowMs == 0 {
		p.heat(slowMs * 0.001)
	}
}

// heat is one thermal step.
func (p *plant) heat(dtS float64) {
	around := &p.around
	*around = forming.Around{
		LowerC: p.moulds.lowerC, UpperC: p.moulds.upperC,
		Pressed: p.press.touching, ForceN: p.press.forceN, Turning: p.spindle.rpm > 1,
	}
	atBlankKW := 0.0
	if p.gas.lit && p.slide.atBlank() {
		around.FlameWPerK, around.FlameC = flameAt(p.gas.fuelMl/1000, p.gas.oxygenMl/1000)
		atBlankKW = p.gas.powerKW()
	}
	p.glass.Step(dtS, around)
	p.state = p.glass.State()
	p.moulds.step(dtS, &p.state, atBlankKW, &p.rnd)
}

// flameAt is the flame as the blank feels it: conductance and temperature.
func flameAt(fuelLmin, oxygenLmin float64) (wPerK, celsius float64) {
	if fuelLmin <= 0 {
		return 0, 0
	}
	rich := oxygenLmin / (stoichiomet * fuelLmin)
	return flameCoefW * math.Pow(fuelLmin, flamePower),
		airFlameC + oxyGainC*(1-math.Exp(-oxyRise*rich))
}
