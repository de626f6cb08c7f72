package plan

import (
	"fmt"

	"pressrig/glass/blank"
	"pressrig/glass/forming"
)

// cut finds the ring: as long as the glass of the piece and its flash needs.
func (o *Order) cut(densityKgM3 float64) (forming.Ring, blank.Cut, error) {
	s, t := &o.Shape, &o.Tube
	volume := s.VolumeMM3 * (1 + s.FlashShare)
	c, err := t.Tube.Cut(volume, densityKgM3, t.SawTolMM)
	if err != nil {
		return forming.Ring{}, c, fmt.Errorf("tube %s: %w", t.Name, err)
	}
	length := round(c.LengthMM, 0.05)
	place := blank.Place{TubeMM: t.LengthMM, HeldMM: t.HeldMM, MouldMM: t.MouldMM, MouldBoreMM: 2 * s.Cavity.RadiusMM}
	if err := place.Takes(length, t.Tube.OutsideMM); err != nil {
		return forming.Ring{}, c, fmt.Errorf("tube %s: %w", t.Name, err)
	}
	return forming.Ring{OuterMM: t.Tube.OutsideMM, InnerMM: t.Tube.BoreMM, LengthMM: clean(length)}, c, nil
}
