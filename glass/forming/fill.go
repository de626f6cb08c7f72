package forming

import "math"

// fill is how far the force has driven the glass into what it must fill.
type fill struct {
	edgeMM   float64 // radius of the corner still empty
	beadMM   float64 // depth reached in the bead holes
	finMM    float64 // length of the flash between the halves
	deformMM float64 // lifted or sagged after parting
	peakN    float64
	smoothed float64 // share of the mould's marks that the glass has not taken
}

// edgeStart is the empty corner of a disc that has just reached the wall, of
// its thickness.
const edgeStart = 0.5

func newFill(job *Job) fill { return fill{edgeMM: edgeStart * job.Cavity.DiscMM, smoothed: 1} }

// cornerMM3 is the empty volume of both corners at radius r.
func cornerMM3(rMM, radiusMM float64) float64 {
	return 2 * (1 - math.Pi/4) * rMM * rMM * 2 * math.Pi * radiusMM
}

// leastMM is the height at which the volume fills the cavity: nothing goes
// further but into corners, beads and flash.
func (f *fill) leastMM(b *Blank) float64 {
	c := &b.job.Cavity
	area := math.Pi * c.RadiusMM * c.RadiusMM
	beads := float64(c.Beads) * c.BeadVolMM3 * min(1, f.beadMM/max(c.BeadDepthMM, 1e-9))
	fin := 2 * math.Pi * c.RadiusMM * f.finMM * c.GapMM
	return (b.job.Ring.VolumeMM3() - beads - fin + cornerMM3(f.edgeMM, c.RadiusMM)) / area
}

// wall: the glass stands at the cavity's wall.
func (f *fill) wall(b *Blank) bool {
	return b.disc.heightMM <= f.leastMM(b)*1.02
}

// Drag is the squeeze-flow resistance at a height, N per mm/s: Stefan 1874 and
// Reynolds for a disc of constant volume that does not slip, with the part of a
// thick sample (Gent 1960; ASTM C1351M; from memory), F = 3 pi eta R^4 v / (2 h^3)
// (1 + 2 h^2 / R^2).
func (b *Blank) Drag(heightMM float64) float64 {
	h := heightMM / 1000
	eta := b.disc.fluid
	if eta == 0 {
		eta = b.glass.etaPaS(b.state.MeanC)
	}
	area := b.volumeM3() / h
	cavity := math.Pi * b.job.Cavity.RadiusMM * b.job.Cavity.RadiusMM * 1e-6
	r2 := min(area, cavity) / math.Pi
	n := 3 * math.Pi * eta * r2 * r2 / (2 * h * h * h) * (1 + 2*h*h/r2) / 1000
	if b.disc.made && heightMM <= b.fill.leastMM(b)+0.005 {
		return max(n, closedNsMM)
	}
	return n
}

// closedNsMM is the resistance of a full cavity: what it still gives is the
// flow into corners, beads and flash, which leastMM follows.
const closedNsMM = 1e5

func (f *fill) step(dtS float64, a *Around, b *Blank) {
	f.peakN = max(f.peakN, a.ForceN)
	if !a.Pressed || a.ForceN <= 0 {
		f.lift(dtS, a, b)
		return
	}
	d, c := &b.disc, &b.job.Cavity
	pa := a.ForceN / d.areaM2(b)
	corner := b.glass.etaPaS(d.cornerC())
	// Marks are shallow, so that they fill some six times as fast as a corner, from
	// the skin at the face [guess]: a hotter, better pressed piece copies them better.
	f.smoothed *= math.Exp(-dtS * pa / b.glass.etaPaS(d.c[layers-1]))
	if c.Beads > 0 && f.beadMM < c.BeadDepthMM {
		// plane channel from empty: L^2 = gap^2 p t / (6 eta), Poiseuille
		gap := c.BeadGapMM / 1000
		depth := max(f.beadMM/1000, gap/4)
		f.beadMM = min(c.BeadDepthMM, f.beadMM+1000*dtS*gap*gap*pa/(12*corner*depth))
	}
	if !f.wall(b) {
		return
	}
	f.edgeMM *= math.Exp(-dtS * pa / (6 * corner))
	gap := c.GapMM / 1000
	if gap > 0 && d.touchS < b.finS() {
		length := max(f.finMM/1000, gap/4)
		f.finMM += 1000 * dtS * gap * gap * pa / (12 * corner * length)
	}
}

// finS is how long a fin keeps flowing: longer the hotter the glass came, since
// it is fed through the corner [guess].
func (b *Blank) finS() float64 { return 1.5 }

// cornerC is the glass that feeds corners and bead holes: the outer third of the
// thickness, which a face and the wall chill at once [guess].
func (d *disc) cornerC() float64 {
	sum := 0.0
	for i := layers - cornerLayers; i < layers; i++ {
		sum += d.c[i]
	}
	return sum / cornerLayers
}

const cornerLayers = layers / 3

// lift is what pull and weight do to a piece that is still soft when let go.
func (f *fill) lift(dtS float64, a *Around, b *Blank) {
	d := &b.disc
	pa := b.job.Material.DensityKgM3 * 9.80665 * d.heightMM / 1000
	if a.ForceN < 0 {
		pa -= a.ForceN / d.areaM2(b)
	}
	f.deformMM += dtS * pa * d.heightMM / (3 * b.glass.etaPaS(d.meanC()))
}
