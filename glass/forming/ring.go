package forming

import "math"

// The grid of the standing ring: cells through the wall, from bore to outside,
// and levels from foot to top.
const (
	walls  = 5
	levels = 4
)

// Where a flame from outside and above goes, shares of its conductance: onto
// the outside, the top and into the bore [common practice, no source].
const (
	SideShare = 0.55
	topShare  = 0.15
	boreShare = 0.30
)

// footGrows is how much more of the gathered ring stands on the mould [common
// practice, no source].
const footGrows = 0.5

// puddleShare is the height of the gathered ring, of the ring's length.
const puddleShare = 0.5

// ring is the axisymmetric blank before contact: r-z finite volumes, explicit.
// 0.5 mm cells of glass are stable up to 80 ms; the caller steps by 10.
type ring struct {
	c        [levels][walls]float64 // C
	surfaceC [levels]float64        // outside
	kg       [walls]float64         // of a cell, each level
	gathered float64
	heightM  float64 // of the open ring
	puddleM  float64
	drM, dzM float64
	radiusM  [walls + 1]float64
	between  [walls]float64 // area of the face to the next cell outwards, m2
	level    [walls]float64 // area of the face to the next level, m2
	mouth    [levels]float64
	sideRel  float64 // gathered over open: side area
	topM2    float64 // gathered: top area
	lowerW   float64
}

func newRing(job *Job, startC float64) ring {
	r := ring{heightM: job.Ring.LengthMM / 1000}
	inner, outer := job.Ring.InnerMM/2000, job.Ring.OuterMM/2000
	r.drM, r.dzM = (outer-inner)/walls, r.heightM/levels
	for i := range r.radiusM {
		r.radiusM[i] = inner + r.drM*float64(i)
	}
	for i := range walls {
		r.level[i] = math.Pi * (r.radiusM[i+1]*r.radiusM[i+1] - r.radiusM[i]*r.radiusM[i])
		r.between[i] = 2 * math.Pi * r.radiusM[i+1] * r.dzM
		r.kg[i] = r.level[i] * r.dzM * job.Material.DensityKgM3
	}
	volume := job.Ring.VolumeMM3() * 1e-9
	r.puddleM = puddleShare * r.heightM
	cap2 := math.Pow(3*volume/(2*math.Pi), 2.0/3) // gathered it is nearly half a ball, side and top alike
	r.sideRel = math.Pi * cap2 / (2 * math.Pi * outer * r.heightM)
	r.topM2 = math.Pi * cap2
	for z := range levels {
		r.mouth[z] = mouthShare(r.heightM-(float64(z)+0.5)*r.dzM, inner)
		for i := range walls {
			r.c[z][i] = startC
		}
		r.surfaceC[z] = startC
	}
	return r
}

// mouthShare is the view factor from a ring of the bore at that depth to its
// open mouth (Howell's catalogue of configuration factors, from memory).
func mouthShare(depthM, radiusM float64) float64 {
	x := depthM / (2 * radiusM)
	return (x*x+0.5)/math.Sqrt(x*x+1) - x
}

func (r *ring) heightMM() float64 {
	return 1000 * (r.heightM + (r.puddleM-r.heightM)*r.gathered)
}

// step is one explicit step: heat through all faces, then the ring gathers.
func (r *ring) step(dtS float64, a *Around, b *Blank) {
	var heat [levels][walls]float64 // W into each cell
	r.conduct(&heat, b.glass)
	r.outside(&heat, a, b)
	r.ends(&heat, a, b)
	for z := range levels {
		for i := range walls {
			r.c[z][i] += dtS * heat[z][i] / (r.kg[i] * b.glass.cpAt(r.c[z][i]))
		}
	}
	rate := gatherPa(b) / b.glass.etaPaS(r.meanC())
	r.gathered += (1 - r.gathered) * (1 - math.Exp(-rate*dtS))
}

// gatherPa is what pulls the soft ring in: its own weight, density x g x height.
func gatherPa(b *Blank) float64 {
	return b.job.Material.DensityKgM3 * 9.80665 * b.job.Ring.LengthMM / 1000
}

func (r *ring) conduct(heat *[levels][walls]float64, g *curves) {
	k := g.kAt(r.meanC())
	thick := 1 / (1 + 2*r.gathered) // gathering makes the wall thicker
	for z := range levels {
		for i := range walls - 1 {
			q := k * r.between[i] / r.drM * thick * (r.c[z][i] - r.c[z][i+1])
			heat[z][i] -= q
			heat[z][i+1] += q
		}
	}
	for z := range levels - 1 {
		for i := range walls {
			q := k * r.level[i] / r.dzM * (r.c[z][i] - r.c[z+1][i])
			heat[z][i] -= q
			heat[z+1][i] += q
		}
	}
}

// outside is the side: flame, more of it higher up, radiation and air.
func (r *ring) outside(heat *[levels][walls]float64, a *Around, b *Blank) {
	area := r.between[walls-1] * (1 + (r.sideRel-1)*r.gathered)
	flame := SideShare * b.flameWPerK / levels
	k := b.glass.kAt(r.surfaceC[levels-1])
	for z := range levels {
		weight := 0.7 + 0.6*(float64(z)+0.5)/levels
		s := r.surfaceC[z]
		w := flame*weight*(a.FlameC-s) - area*(b.job.radiationWM2(s, b.aroundC)+b.airWM2K*(s-b.aroundC))
		heat[z][walls-1] += w
		r.surfaceC[z] = r.c[z][walls-1] + w/area*r.drM/(2*k)
	}
}

// ends are top, bore and foot.
func (r *ring) ends(heat *[levels][walls]float64, a *Around, b *Blank) {
	g := r.gathered
	top := levels - 1
	for i := range walls {
		share := r.level[i] / r.levelArea()
		area := r.level[i]*(1-g) + r.topM2*share*g
		c := r.c[top][i]
		heat[top][i] += topShare*share*b.flameWPerK*(a.FlameC-c) -
			area*(b.job.radiationWM2(c, b.aroundC)+b.airWM2K*(c-b.aroundC))
	}
	bore := 2 * math.Pi * r.radiusM[0] * r.dzM * (1 - g)
	for z := range levels {
		c := r.c[z][0]
		heat[z][0] += boreShare*b.flameWPerK*r.mouth[z]/r.mouthSum()*(a.FlameC-c) -
			bore*r.mouth[z]*b.job.radiationWM2(c, b.aroundC)
	}
	r.lowerW = 0
	for i := range walls {
		area := r.level[i] * (1 + footGrows*g)
		w := area * factor(b.job.Tune.Contact) * b.job.Contact.FootWM2K * (r.c[0][i] - a.LowerC)
		heat[0][i] -= w
		r.lowerW += w
	}
}

func (r *ring) levelArea() float64 {
	sum := 0.0
	for _, a := range r.level {
		sum += a
	}
	return sum
}

func (r *ring) mouthSum() float64 {
	sum := 0.0
	for _, f := range r.mouth {
		sum += f
	}
	return sum
}

// levelC is the mean of a level, by mass.
func (r *ring) levelC(z int) float64 {
	sum, mass := 0.0, 0.0
	for i := range walls {
		sum += r.kg[i] * r.c[z][i]
		mass += r.kg[i]
	}
	return sum / mass
}

func (r *ring) meanC() float64 {
	sum := 0.0
	for z := range levels {
		sum += r.levelC(z)
	}
	return sum / levels
}

func (r *ring) look(s *State) {
	s.MeanC, s.SkinC, s.CoreC = r.meanC(), 0, math.Inf(1)
	for z := range levels {
		s.SkinC += r.surfaceC[z] / levels
		for i := range walls {
			s.CoreC = min(s.CoreC, r.c[z][i])
		}
	}
	s.HeightMM, s.Gathered = r.heightMM(), r.gathered
	s.ToLowerW, s.ToUpperW = r.lowerW, 0
}
