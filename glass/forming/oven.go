package forming

// Oven is the annealing programme of a piece after the rig: held, then cooled
// evenly. The oven is a station of its own; no recipe runs it.
type Oven struct {
	HoldC, HoldS float64
	CoolKS       float64 // rate of cooling, K/s
	ToC          float64 // below it the oven may fall as it likes
}

// ovenStepS is far below what a layer of the disc stands, 0.2 s.
const ovenStepS = 0.05

// handC is cool enough to take out.
const handC = 40.0

// Anneal puts the pressed piece through the oven and leaves it at room
// temperature, free of the mould.
func (b *Blank) Anneal(o *Oven) {
	if !b.disc.made || o.CoolKS <= 0 {
		return
	}
	a := Around{OvenC: o.HoldC}
	for s := 0.0; s < o.HoldS; s += ovenStepS {
		b.Step(ovenStepS, &a)
	}
	for a.OvenC > o.ToC {
		a.OvenC -= o.CoolKS * ovenStepS
		b.Step(ovenStepS, &a)
	}
	for a.OvenC > roomC || b.state.MeanC > handC {
		a.OvenC = max(roomC, a.OvenC-2*o.CoolKS*ovenStepS)
		b.Step(ovenStepS, &a)
	}
}
