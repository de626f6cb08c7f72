package forming

// Oven is the annealing programme of a piece after the rig: held, then cooled
// evenly. The oven is a station of its own; no recipe runs it.
type Oven struct {
	HoldC, HoldS float64
	CoolKS       float64 // rate of cooling, K/s
	ToC          float64 // below it the oven may fall as it likes
}

// UsualOven is the programme of the trade for a glass: 8 K above the annealing
// point for 20 min, then 3.5 K/min to 53 K below the strain point [common
// practice, no source].
func UsualOven(m *Material) Oven {
	return Oven{HoldC: m.AnnealingC + 8, HoldS: 20 * 60, CoolKS: 3.5 / 60, ToC: m.StrainC - 53}
}

// ovenStepS is half of what a layer of the disc stands in explicit steps.
func (b *Blank) ovenStepS() float64 {
	m, dx := &b.job.Material, b.disc.heightMM/1000/layers
	return min(0.2, max(0.01, 0.25*dx*dx*m.DensityKgM3*b.glass.cpAt(m.AnnealingC)/b.glass.kAt(m.AnnealingC)))
}

// ovenAirWM2K is air moved past a small piece at some 10 m/s [common practice, no
// source].
const ovenAirWM2K = 80.0

// handC is cool enough to take out.
const handC = 40.0

// Anneal puts the pressed piece through the oven and leaves it at room
// temperature, free of the mould.
func (b *Blank) Anneal(o *Oven) {
	if !b.disc.made || o.CoolKS <= 0 {
		return
	}
	a, dt := Around{OvenC: o.HoldC, AirWM2K: ovenAirWM2K}, b.ovenStepS()
	for s := 0.0; s < o.HoldS; s += dt {
		b.Step(dt, &a)
	}
	for a.OvenC > o.ToC {
		a.OvenC -= o.CoolKS * dt
		b.Step(dt, &a)
	}
	for a.OvenC > roomC || b.state.MeanC > handC {
		a.OvenC = max(roomC, a.OvenC-2*o.CoolKS*dt)
		b.Step(dt, &a)
	}
}
