package bench

import (
	"math"

	"pressrig/glass/forming"
	"pressrig/safety/warden"
)

// Numbers of the press.
const (
	pressTauS      = 0.02   // speed follows its command
	mouldStiffNmm  = 5000.0 // mould halves closed on each other
	settleMM       = 0.1    // the drive leans this far past its target to hold its force
	touchMM        = 0.15   // mould halves this close still touch the glass
	relaxTauS      = 0.2    // force of the standing press dies away in soft glass
	pullNmm        = 20.0   // glass that sticks, pulled
	handMMs        = 25.0   // a lever moved by hand
	handPullN      = 60.0   // what a hand pulls with when opening
	endSwitchMM    = 0.5    // over-travel switch, past the last position
	overForceShare = 1.25   // over-force switch, of the largest force, where no number is set
)

// press is the stroke: travel from open, speed, force on the glass.
type press struct {
	travelMM, speedMMs, forceN float64
	touching                   bool
	everMM                     float64 // deepest travel since the glass was touched
	bondAtMM, bondN            float64 // sticking: where the pull began, what it takes to part
	bonded                     bool
	brakeMs                    uint32  // that a late brake has been asked to hold
	dwellS                     float64 // in contact
	peakPullN                  float64
	stopMM, discMM             float64 // travel where the mould halves meet, height of the cavity
	driven                     bool
	weightN, frictionN         float64
	lever                      Lever
	reliefBar                  float64
}

// Lever is what a hand does with the lever of a press that is not driven.
type Lever uint8

// The lever's three ways.
const (
	LeverRest  Lever = 0
	LeverClose Lever = 1
	LeverOpen  Lever = 2
)

// gapMM is the room between the mould halves.
func (p *press) gapMM() float64 { return p.stopMM + p.discMM - p.travelMM }

// step goes on by one millisecond.
func (p *press) step(out *warden.Output, up *upsets, g *forming.Blank, s *forming.State) {
	m, way := p.command(out, up)
	switch {
	case p.runsOn(out, up):
		p.touch(s)
	case out.Bits&warden.OutBrake != 0 || up.pressJam || way == LeverRest:
		p.stand(s)
		p.slip(up)
	case way == LeverClose:
		p.close(m, g, s)
	default:
		p.stick(up, s)
		p.open(m, up, s)
	}
}

// movement is what drive or hand wants of the press.
type movement struct{ speedMMs, limitN, targetMM float64 }

// command turns outputs, or the hand at the lever, into one movement.
func (p *press) command(out *warden.Output, up *upsets) (movement, Lever) {
	if !p.driven {
		if p.lever == LeverOpen {
			return movement{handMMs, handPullN, 0}, LeverOpen
		}
		return movement{handMMs, max(0, p.weightN-p.frictionN), p.stopMM}, p.lever
	}
	m := movement{float64(out.SpeedCmms) / 100 * up.pressGain, float64(out.ForceDN) / 10,
		float64(out.TravelCmm) / 100}
	return m, leverFor(out)
}

func (p *press) stand(s *forming.State) {
	p.speedMMs = 0
	p.relax(0.001 / relaxTauS)
	p.touch(s)
}

// relax takes a share of the force away; a thousandth of a newton is none.
func (p *press) relax(share float64) {
	p.forceN -= p.forceN * share
	if math.Abs(p.forceN) < 1e-3 {
		p.forceN = 0
	}
}

func (p *press) touch(s *forming.State) {
	p.touching = p.travelMM > 0 && p.gapMM() <= s.HeightMM+touchMM
	if p.touching {
		p.dwellS += 0.001
	}
}

func (p *press) close(m movement, g *forming.Blank, s *forming.State) {
	p.bonded = false
	left := m.targetMM + settleMM - p.travelMM
	wanted := max(0, min(m.speedMMs, left/pressTauS))
	p.speedMMs += (wanted - p.speedMMs) * (0.001 / pressTauS)
	p.touch(s)
	stiff := mouldStiffNmm * max(0, p.travelMM-p.stopMM)
	if !p.touching && stiff == 0 {
		p.forceN = 0
		p.travelMM += p.speedMMs * 0.001
		return
	}
	drag := 0.0
	if p.touching {
		drag = g.Drag(max(p.gapMM(), 0.5))
	}
	p.squeeze(m.limitN, stiff, drag)
	g.Squash(p.gapMM())
	p.everMM = max(p.everMM, p.travelMM)
}

// squeeze moves against drag and mould, with no more than limit. The drag and
// the mould's own give share one millisecond, so that stiffness is stable. A
// smaller limit lets the closed halves spring back at once: glass only pushes.
func (p *press) squeeze(limit, stiff, drag float64) {
	if stiff > limit {
		p.speedMMs = 0
		p.travelMM = p.stopMM + limit/mouldStiffNmm
		p.forceN += (limit - p.forceN) * 0.2
		return
	}
	give := drag
	if stiff > 0 {
		give += mouldStiffNmm * 0.001
	}
	if give > 0 {
		p.speedMMs = min(p.speedMMs, (limit-stiff)/give)
	}
	p.travelMM += p.speedMMs * 0.001
	stiff = mouldStiffNmm * max(0, p.travelMM-p.stopMM)
	p.forceN += (min(limit, stiff+drag*p.speedMMs) - p.forceN) * 0.2
}

// stick decides, when an opening begins in contact, how hard the glass holds.
func (p *press) stick(up *upsets, s *forming.State) {
	if !p.touching || p.bonded || p.bondAtMM != 0 {
		return
	}
	p.bonded, p.bondAtMM, p.peakPullN = true, p.travelMM, 0
	p.bondN = bondStrengthN(p.dwellS, s)
	if up.glassStuck {
		p.bondN = math.Inf(1)
	}
}

func (p *press) open(m movement, up *upsets, s *forming.State) {
	wanted := max(0, min(m.speedMMs, (p.travelMM-m.targetMM)/pressTauS))
	p.speedMMs += (-wanted - p.speedMMs) * (0.001 / pressTauS)
	if s.MeanC < s.StickC-looseBelowK { // glass that has cooled in the mould shrinks loose
		p.bondN = min(p.bondN, looseN)
	}
	if p.bonded {
		p.pull(m.limitN, up)
	} else {
		p.relax(0.2)
	}
	p.travelMM = max(0, p.travelMM+p.speedMMs*0.001)
	if p.gapMM() > s.HeightMM+1 && !p.bonded {
		p.touching, p.bondAtMM, p.dwellS, p.everMM = false, 0, 0, 0
	}
}

// pull stretches the bond until it parts or the drive is at its limit.
func (p *press) pull(limit float64, up *upsets) {
	n := pullNmm * max(0, p.bondAtMM-p.travelMM)
	if !up.glassStuck && math.IsInf(p.bondN, 1) {
		p.bondN = n // the fault is gone: it lets go now
	}
	p.forceN = -min(n, limit)
	p.peakPullN = max(p.peakPullN, min(n, limit))
	switch {
	case n >= p.bondN:
		p.bonded = false
		p.touching = false
	case n >= limit:
		p.speedMMs = 0
	}
}

// Glass well below its annealing point has shrunk off the cavity [common
// practice, no source].
const (
	looseBelowK = 35.0 // below the temperature at which a mould face sticks
	looseN      = 6.0
)

// bondStrengthN: a well-timed part needs a few newton; a hot mould or a long
// dwell sticks, glass let go too soon pulls up [common practice, no source].
func bondStrengthN(dwellS float64, s *forming.State) float64 {
	n := 6.0
	n += 1.5 * max(0, s.FaceC-s.StickC)
	n += 3 * max(0, dwellS-9)
	n += 15 * max(0, 6.2-s.LogPaS)
	return n
}
