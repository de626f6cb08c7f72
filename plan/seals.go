package plan

import (
	"fmt"

	"pressrig/glass/seal"
)

// sealing is what joins glass and metal, if anything does.
type sealing struct {
	judged  *seal.Judgement
	pinless string // why no pin alloy fits this glass
}

// seals judges the pins. It refuses pins in a glass that no metal fits.
func (b *bench) seals() error {
	m, p := &b.job.Material, b.order.Piece
	curve, err := seal.NewCurve(seal.Mean{ToC: expansionToC, PerK: m.ExpansionPK})
	if err != nil {
		return err
	}
	g := seal.Glass{Expansion: curve, Elastic: seal.Elastic{YoungPa: m.YoungPa, Poisson: m.Poisson},
		StrainC: float64(b.glass.StrainC), AnnealingC: float64(b.glass.AnnealingC)}
	_, why, err := seal.Pins(g)
	if err != nil {
		return err
	}
	b.sealing.pinless = why
	if p.Pins.Number == 0 {
		return nil
	}
	if why != "" {
		return fmt.Errorf("piece %s has pins, but %s cannot hold any: %s", p.Name, b.glass.Name, why)
	}
	alloy, err := seal.Named(p.Pins.Alloy)
	if err != nil {
		return err
	}
	bead := p.Beads.DiameterMM
	if p.Beads.Sides() == 0 {
		bead = beadOfDisc * p.Pins.DiameterMM
	}
	j, err := seal.Seal{Glass: g, Alloy: alloy, Shape: seal.Shape{PinMM: p.Pins.DiameterMM, BeadMM: bead}}.Judge()
	if err != nil {
		return err
	}
	b.sealing.judged = &j
	for _, w := range j.Warnings {
		b.warn("seal: %s", w)
	}
	return nil
}

// A glass whose curve is not known has one mean to here; a pin without a bead
// sits in a disc, which counts as a bead of so many diameters.
const (
	expansionToC = 300.0
	beadOfDisc   = 9.0
)

func (b *bench) tellSeals(t *teller) {
	t.topic = "seal"
	if b.sealing.pinless != "" {
		t.words("pins", "pinless: "+b.sealing.pinless, "mismatch of every alloy of the table at the set point", "ASTM F14, alloys of seal", derived)
		return
	}
	j := b.sealing.judged
	if j == nil {
		return
	}
	t.tell("mismatch at the set point", j.Mismatch*1e6, "ppm", "integral of the contractions from strain point + 5 K to 20 C", "Kohl; data of glass and alloy", memory).window(-300, 300)
	t.tell("hoop stress at the pin", j.Stress.Hoop/1e6, "MPa", "thick wall (Lame) round an elastic pin", "Folsom's formulas, found", found)
	t.words("seal", j.Fit.String(), "limits of ASTM F14 and common practice", "ASTM F14", memory)
}
