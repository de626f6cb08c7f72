package bench

import "pressrig/glass/forming"

// Numbers of the mould halves: 0.6 kg of cast iron each, their heaters held
// near their set-points by something outside the rig.
const (
	mouldJPerK = 288.0 // 0.6 kg at 480 J/(kg.K)
	mouldTauS  = 420.0 // about 7 min: a piece warms a half by about 13 K, then it falls back
	flameShare = 0.009 // of the flame's heat that the lower half takes with the burner at the blank
	driftC     = 3.0   // how far the heaters' controllers wander
)

// moulds are both halves.
type moulds struct {
	lowerC, upperC       float64
	lowerSetC, upperSetC float64
	drift                float64 // -1 to 1, wanders slowly
}

func (m *moulds) step(dtS float64, s *forming.State, flameKW float64, rnd *chance) {
	m.drift += 0.002*rnd.spread() - 0.001*m.drift*dtS
	m.drift = min(1, max(-1, m.drift))
	m.lowerC += dtS * ((m.lowerSetC+driftC*m.drift-m.lowerC)/mouldTauS +
		(s.ToLowerW+1000*flameKW*flameShare)/mouldJPerK)
	m.upperC += dtS * ((m.upperSetC-driftC*m.drift-m.upperC)/mouldTauS + s.ToUpperW/mouldJPerK)
}
