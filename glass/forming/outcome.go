package forming

import "math"

// Outcome is the piece as a perfect inspection would find it.
type Outcome struct {
	Pressed     bool
	ThicknessMM float64
	EdgeMM      float64 // radius of the edge where glass did not reach the corner
	BeadShare   float64 // of the bead holes' depth, 0 to 1
	FinMM       float64 // flash between the halves
	DeformMM    float64 // lifted or sagged
	MarksUM     float64 // roughness that the mould has printed on the piece
	FullShare   float64 // of the cavity's volume
	PeakN       float64
	StickK      float64 // mould face above the sticking limit at its hottest; negative is margin
	WarmMPa     float64 // greatest tension while warming
	CoolMPa     float64 // greatest surface tension while cooling
	CentreMPa   float64 // permanent tension inside
	RetardNM    float64 // what a polariscope would show through the thickness, nm
	WarmCrack   float64 // probability that the ring cracks while warming
	CoolCrack   float64 // probability that the piece cracks while cooling
}

// Strengths for the probability of a crack, two-parameter Weibull: a cut edge
// stands about 7 to 19 MPa; a fire-polished face more [common practice, no
// source]. The modulus 10 of soda glass is Ashby's.
const (
	edgeMPa     = 20.0
	edgeModulus = 5.0
	faceMPa     = 35.0
	faceModulus = 10.0
)

func crack(mpa, scale, modulus float64) float64 {
	if mpa <= 0 {
		return 0
	}
	return 1 - math.Exp(-math.Pow(mpa/scale, modulus))
}

// Outcome is the piece now.
func (b *Blank) Outcome() Outcome {
	c, m := &b.job.Cavity, &b.job.Material
	o := Outcome{
		Pressed: b.disc.made, ThicknessMM: b.state.HeightMM, EdgeMM: b.fill.edgeMM, BeadShare: 1,
		FinMM: b.fill.finMM, DeformMM: b.fill.deformMM, PeakN: b.fill.peakN,
		StickK:  b.disc.hottestFaceC - b.state.StickC,
		WarmMPa: b.worst.warmPa / 1e6, CoolMPa: b.worst.coolPa / 1e6, CentreMPa: b.worst.centrePa / 1e6,
	}
	if c.Beads > 0 {
		o.BeadShare = b.fill.beadMM / c.BeadDepthMM
	}
	if o.Pressed {
		area := math.Pi * c.RadiusMM * c.RadiusMM
		cavity := area*c.DiscMM + float64(c.Beads)*c.BeadVolMM3
		o.FullShare = min(1, (b.job.Ring.VolumeMM3()-2*math.Pi*c.RadiusMM*b.fill.finMM*c.GapMM)/cavity)
	}
	o.MarksUM = c.RoughUM * (1 - b.fill.smoothed)
	o.RetardNM = m.OpticalPPa * b.worst.centrePa * b.state.HeightMM * 1e6
	o.WarmCrack = crack(o.WarmMPa, edgeMPa, edgeModulus)
	o.CoolCrack = crack(max(o.CoolMPa, o.CentreMPa), faceMPa, faceModulus)
	return o
}
