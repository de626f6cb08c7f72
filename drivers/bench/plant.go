package bench

import (
	"math"

	"pressrig/glass/forming"
	"pressrig/safety/warden"
)

// slowMs is the thermal step.
const slowMs = 10

// plant is the machine and the glass, without the microcontroller.
type plant struct {
	gas     gas
	slide   slide
	fan     fan
	spindle spindle
	press   press
	moulds  moulds
	chains  chains
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
		Pressed: p.press.touching, ForceN: p.press.forceN, Turning: math.Abs(p.spindle.rpm) > 1,
	}
	atBlankKW := 0.0
	if p.gas.lit && p.slide.atBlank() {
		around.FlameWPerK, around.FlameC = forming.FlameAt(p.gas.fuelMl/1000, p.gas.oxygenMl/1000)
		atBlankKW = p.gas.powerKW()
	}
	p.glass.Step(dtS, around)
	p.state = p.glass.State()
	p.moulds.step(dtS, &p.state, atBlankKW, &p.rnd)
}
