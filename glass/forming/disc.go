package forming

import "math"

// layers of the pressed disc, from the lower face to the upper one.
const layers = 12

// looseWM2K is the contact of a piece that lies loose on the lower half after
// parting [common practice, no source].
const looseWM2K = 170.0

// disc is the glass once the press has touched it: layers through the
// thickness, chilled from both faces, explicit.
type disc struct {
	made         bool
	parted       bool
	c            [layers]float64
	heightMM     float64
	touchS       float64 // since first contact
	lowerW       float64
	upperW       float64
	faceC        float64 // upper mould face
	hottestFaceC float64
	fluid        float64 // effective viscosity across the gap, Pa.s
}

// newDisc rolls the ring into a disc: levels become layers, so that a chilled
// foot stays at the lower face, and no heat is lost.
func newDisc(r *ring, volumeM3 float64) disc {
	d := disc{made: true, heightMM: r.heightMM()}
	for i := range layers {
		x := (float64(i)+0.5)/layers*levels - 0.5
		z := int(math.Max(0, math.Floor(x)))
		z = min(z, levels-2)
		f := min(max(x-float64(z), 0), 1)
		d.c[i] = r.levelC(z)*(1-f) + r.levelC(z+1)*f
	}
	shift := r.meanC() - d.meanC()
	for i := range layers {
		d.c[i] += shift
	}
	return d
}

// areaM2 of a face: the volume over the height, at most the cavity.
func (d *disc) areaM2(b *Blank) float64 {
	cavity := math.Pi * b.job.Cavity.RadiusMM * b.job.Cavity.RadiusMM * 1e-6
	return min(b.volumeM3()/(d.heightMM/1000), cavity)
}

// squash flattens the disc; it never grows again, and not below what its volume
// allows in the cavity.
func (d *disc) squash(heightMM float64, b *Blank) {
	d.heightMM = min(d.heightMM, max(heightMM, b.fill.leastMM(b)))
}

func (d *disc) step(dtS float64, a *Around, b *Blank) {
	var heat [layers]float64 // W/m2 of face, into each layer
	m := &b.job.Material
	area := d.areaM2(b)
	k := b.glass.kAt(d.meanC())
	thick := d.heightMM / 1000 / layers
	for i := range layers - 1 {
		q := k / thick * (d.c[i] - d.c[i+1])
		heat[i] -= q
		heat[i+1] += q
	}
	if a.Pressed {
		d.touchS += dtS
		d.parted = false
		u := d.contact(&b.job, k, thick)
		d.upperW = area * u * (d.c[layers-1] - a.UpperC)
		d.lowerW = area * u * (d.c[0] - a.LowerC)
		rise := math.Sqrt(math.Pi*d.touchS) / b.job.Contact.Effusivity / area
		d.faceC = a.UpperC + d.upperW*rise
		d.hottestFaceC = max(d.hottestFaceC, d.faceC, a.LowerC+d.lowerW*rise)
	} else {
		d.parted = true
		top := d.c[layers-1]
		d.upperW = 0
		heat[layers-1] += 0.8*b.flameWPerK/area*(a.FlameC-top) -
			b.job.radiationWM2(top, b.aroundC) - b.airWM2K*(top-b.aroundC)
		d.rim(&heat, a, area, b)
		if a.OvenC > 0 { // it stands free there, warm all round
			d.lowerW = area * (b.job.radiationWM2(d.c[0], b.aroundC) + b.airWM2K*(d.c[0]-b.aroundC))
		} else {
			d.lowerW = area / (1/looseWM2K + thick/2/k) * (d.c[0] - a.LowerC)
		}
	}
	heat[layers-1] -= d.upperW / area
	heat[0] -= d.lowerW / area
	for i := range layers {
		d.c[i] += dtS * heat[i] / (thick * m.DensityKgM3 * b.glass.cpAt(d.c[i]))
	}
	d.fluid = d.fluidity(b.glass)
}

// contact is from the middle of the outer layer into the mould: half a layer of
// glass, the gap that opens, and the mould's own surface that warms.
func (d *disc) contact(j *Job, k, thickM float64) float64 {
	c := &j.Contact
	gap := c.LastWM2K + (c.FirstWM2K-c.LastWM2K)*math.Exp(-d.touchS/c.FallS)
	gap *= factor(j.Tune.Contact)
	return 1 / (thickM/2/k + 1/gap + math.Sqrt(math.Pi*d.touchS)/c.Effusivity)
}

// rim is the edge of the parted disc: a fifth of the flame, radiation and air.
func (d *disc) rim(heat *[layers]float64, a *Around, area float64, b *Blank) {
	side := 2 * math.Sqrt(math.Pi*area) * d.heightMM / 1000 / layers / area
	for i := range layers {
		c := d.c[i]
		heat[i] += 0.2*b.flameWPerK/area/layers*(a.FlameC-c) -
			side*(b.job.radiationWM2(c, b.aroundC)+b.airWM2K*(c-b.aroundC))
	}
}

// fluidity is the viscosity that a uniform gap would need to flow alike: slow
// flow between two faces without slip, each layer with its own viscosity.
func (d *disc) fluidity(g *curves) float64 {
	var inverse [layers]float64
	sum, moment := 0.0, 0.0
	for i := range layers {
		inverse[i] = 1 / g.etaPaS(d.c[i])
		z := (float64(i) + 0.5) / layers
		sum += inverse[i]
		moment += inverse[i] * z
	}
	middle, second := moment/sum, 0.0
	for i := range layers {
		z := (float64(i)+0.5)/layers - middle
		second += inverse[i] * (z*z + 1.0/(12*layers*layers)) / layers
	}
	return 1 / (12 * second)
}

func (d *disc) meanC() float64 {
	sum := 0.0
	for _, c := range d.c {
		sum += c
	}
	return sum / layers
}

func (d *disc) look(s *State) {
	s.MeanC, s.SkinC, s.CoreC = d.meanC(), d.c[layers-1], d.c[layers/2]
	s.HeightMM, s.Gathered = d.heightMM, 1
	s.ToLowerW, s.ToUpperW, s.FaceC = d.lowerW, d.upperW, d.faceC
}
