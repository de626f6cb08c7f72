package pieces

import (
	"fmt"
	"math"

	"pressrig/glass/blank"
)

// measure finds what follows from a piece that checks found sound.
func (p *Piece) measure() (Figures, error) {
	rings := p.rings()
	f := Figures{Pockets: p.Pins.Number * p.Beads.Sides(), TakesMM: rings[0].out[0]}
	for i, step := range p.Steps {
		f.HeightMM += step.HeightMM
		if !step.Upper {
			f.PartingMM += step.HeightMM
			f.TakesMM = rings[i].out[0]
		}
		f.WidestMM = max(f.WidestMM, rings[i].out[0], rings[i].out[1])
		solid, _, err := blank.FrustumMM3(step.RadiusMM, step.HeightMM, p.DraftDeg)
		if err != nil {
			return f, err
		}
		f.BodyMM3 += solid
		if step.BoreMM > 0 {
			hollow, _, err := blank.FrustumMM3(step.BoreMM, step.HeightMM, p.DraftDeg)
			if err != nil {
				return f, err
			}
			f.BodyMM3 -= hollow
		}
	}
	f.ThinnestMM, f.ThickestMM = p.sections(rings)
	if err := p.measureInsets(&f); err != nil {
		return f, err
	}
	balance := blank.Balance{Body: f.BodyMM3, Holes: f.HolesMM3, Beads: f.BeadsMM3, Flash: p.FlashShare}
	var err error
	if f.PressedMM3, err = balance.Piece(); err != nil {
		return f, err
	}
	if f.BlankMM3, err = balance.Blank(); err != nil {
		return f, err
	}
	f.PieceMM3 = f.PressedMM3 + f.TubulationMM3
	f.ProjectedMM2 = p.projected(rings, f.WidestMM)
	f.EvenMM = (f.BodyMM3 - f.HolesMM3) / (math.Pi * f.WidestMM * f.WidestMM)
	low, high := p.extent(f.HeightMM)
	f.OverallMM = high - low
	return f, nil
}

// measureInsets counts pins, beads and the exhaust tube.
func (p *Piece) measureInsets(f *Figures) error {
	s := &p.seats
	n := float64(p.Pins.Number)
	area := math.Pi / 4 * p.Pins.DiameterMM * p.Pins.DiameterMM
	if p.Pins.Number > 0 {
		f.AtPinsMM = s.top - s.bottom
		f.HolesMM3 += n * area * f.AtPinsMM
		f.BeadToBeadMM, f.BeadToEdgeMM, f.BeadToTubeMM = s.apart, s.edge, s.tube
	}
	if f.Pockets > 0 {
		v, base, err := blank.FrustumMM3(p.Beads.DiameterMM/2, p.Beads.DepthMM, p.DraftDeg)
		if err != nil {
			return err
		}
		f.BeadMM3, f.BeadBaseMM = v-area*p.Beads.DepthMM, 2*base
		f.BeadsMM3 = float64(f.Pockets) * f.BeadMM3
		f.PocketGapMM, f.PocketDeepMM = p.GapMM(), p.Beads.DepthMM
	}
	if t := p.Tubulation; t.OutsideMM > 0 {
		v, err := blank.RingMM3(t.OutsideMM, t.BoreMM, t.HeightMM)
		if err != nil {
			return err
		}
		f.TubulationMM3 = v
		hole, _, err := blank.FrustumMM3(t.BoreMM/2, s.atAxis, p.DraftDeg)
		if err != nil {
			return err
		}
		f.HolesMM3 += hole
	}
	return nil
}

// projected is the area that the press works on: the widest outline less what
// is open from face to face.
func (p *Piece) projected(rings []ring, widest float64) float64 {
	open := math.Inf(1)
	for _, r := range rings {
		open = min(open, r.in[0], r.in[1])
	}
	if p.Tubulation.OutsideMM > 0 {
		open = max(open, p.Tubulation.BoreMM/2)
	}
	return math.Pi * (widest*widest - open*open)
}

// extent is the lowest and the highest point of a piece over its datum; pins
// reach as far as their beads at least.
func (p *Piece) extent(bodyMM float64) (low, high float64) {
	high = bodyMM
	if p.Pins.Number > 0 {
		low, high = min(low, p.seats.bottom-p.Pins.BelowMM), max(high, p.seats.top+p.Pins.AboveMM)
	}
	if p.Tubulation.OutsideMM > 0 {
		high = max(high, p.seats.axisTop+p.Tubulation.HeightMM)
	}
	return low, high
}

// MassG is the mass of a volume of glass, g.
func MassG(volumeMM3, densityKgM3 float64) (float64, error) {
	m, err := blank.MassG(volumeMM3, densityKgM3)
	if err != nil {
		return 0, fmt.Errorf("mass: %w", err)
	}
	return m, nil
}
