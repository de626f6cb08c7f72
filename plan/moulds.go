package plan

import (
	"fmt"

	"pressrig/glass/heat"
	"pressrig/glass/mould"
)

// moulds is how warm the halves are kept.
type moulds struct {
	lowerC, upperC float64
	window         mould.Window // of the mould itself
	riseK          float64      // of the lower half, a piece
}

// Choices [common practice, no source].
const (
	stickMarginK = 40.0 // the face stays so far below sticking: the mould warms over a run
	upperLowerK  = 20.0 // the upper half is kept so much colder
	coldC        = 25.0
)

// warmMoulds finds how warm the halves may be, with the properties of cold
// glass, as the trade's rule is.
func (b *bench) warmMoulds() error {
	m, g := &b.job.Material, b.glass
	coatK := 0.0
	if b.order.Mould.Carbon {
		coatK = mould.CautiousCoatK
	}
	e, err := heat.Effusivity(m.KWmK(coldC), m.DensityKgM3, m.CpJkgK(coldC))
	if err != nil {
		return err
	}
	rule := mould.Glass{StrainC: float64(g.StrainC), AnnealingC: float64(g.AnnealingC), Effusivity: e}
	w, err := rule.MouldC(b.targetC, b.job.Contact.Effusivity, coatK)
	if err != nil {
		return err
	}
	cool, err := rule.MouldC(b.targetC, b.job.Contact.Effusivity, 0)
	if err != nil {
		return err
	}
	if !w.Open() {
		return fmt.Errorf("no temperature of a %s mould neither sticks nor chills %s", b.of.Label, g.Name)
	}
	slope := 1 + e/b.job.Contact.Effusivity
	b.moulds = moulds{window: w, lowerC: round(cool.MostC-stickMarginK*slope, 5)}
	b.moulds.upperC = b.moulds.lowerC - upperLowerK
	q, err := mould.HeatOfPiece(b.cut.MassG/1000, b.targetC, float64(g.SofteningC)-setBelowK, m.CpJkgK(b.targetC))
	if err != nil {
		return err
	}
	b.moulds.riseK, err = mould.RisePerPieceK(q/2, b.order.Mould.Lower.MassKg, b.of.Capacity.Value)
	return err
}

func (b *bench) tellMoulds(t *teller) {
	t.topic = "moulds"
	m := &b.moulds
	t.tell("lower half", m.lowerC, "C", "face = (e_g T_g + e_m T_m)/(e_g + e_m), from the strain point - 100 K to the annealing point + 20 K",
		"law of two half spaces; limits "+mould.LimitsSource, derived).window(m.window.LeastC, m.window.MostC)
	t.tell("upper half", m.upperC, "C", "20 K below the lower one", mould.LimitsSource, memory)
	t.tell("a piece warms the lower half by", m.riseK, "K", "half the heat of the piece/(m c)", "heat balance", derived)
	stick := float64(b.glass.AnnealingC) + stickAboveK
	t.tell("face while pressing", b.pressed.StickK+stick, "C", "hottest face of the mould; sticks above", byPlant, simulated).
		window(0, stick+b.limits.StickK)
}

// stickAboveK: bare metal sticks from so much above the annealing point [common
// practice, no source].
const stickAboveK = 20.0
