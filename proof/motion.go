package proof

import (
	"fmt"
	"math"
	"time"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// What counts as movement: more than the noise of a travel channel with steps of
// 0.01 mm, and less than a hold-to-run press goes in the shortest wait.
const (
	movedMM  = 0.3
	stirMM   = 0.1  // a standing press keeps within this
	stillMs  = 300  // and has stood for so long
	underMM  = 3.0  // a press that goes for certain
	standRPM = 0.5  // a spindle that stands
	halfway  = 10.0 // mm: away from its open end for the brake
)

// travelMM is where the press is seen, from open; false where no channel says it.
func (j *Judge) travelMM() (float64, bool) {
	const ai = warden.AiTravel
	return j.profile.Calibrated(ai, j.snap.Analog[ai]), j.profile.Fits("travel") && j.snap.OK(ai)
}

// rpm is how fast the spindle is seen to turn, either way.
func (j *Judge) rpm() (float64, bool) {
	const ai = warden.AiSpindle
	return math.Abs(j.profile.Calibrated(ai, j.snap.Analog[ai])), j.snap.OK(ai)
}

// place notes where the press stands as the stage begins, and when it last
// stirred.
func (j *Judge) place() {
	mm, _ := j.travelMM()
	m := &j.memory
	if !m.placed {
		m.placed, m.fromMM, m.atMM, m.stirredMs = true, mm, mm, j.snap.StampMs
	}
	if math.Abs(mm-m.atMM) > stirMM {
		m.atMM, m.stirredMs = mm, j.snap.StampMs
	}
}

// moved: the press is seen to have gone by so many millimetres in this stage;
// without a travel channel, to have left its open end.
func (j *Judge) moved(byMM float64) bool {
	j.place()
	if mm, ok := j.travelMM(); ok {
		return math.Abs(mm-j.memory.fromMM) > byMM
	}
	return !j.snap.Has(warden.InPressOpen)
}

// stands: the press has not stirred for a while.
func (j *Judge) stands() bool {
	j.place()
	return j.snap.StampMs-j.memory.stirredMs >= stillMs
}

// closes waits until the press is seen to close by hold-to-run.
func closes(byMM float64) stage {
	return ready(ActPressCloses, "hold CLOSE and keep holding it", "the press was not seen to move: CLOSE needs the door "+
		"closed, no lock, the burner shut", handS, func(j *Judge) bool {
		if !j.snap.Has(warden.InHoldClose) {
			j.memory.placed = false
		}
		return j.snap.Has(warden.InHoldClose) && j.moved(byMM)
	})
}

func pressIsOpen() stage {
	return ready(ActPressHome, "the press must stand open", "the press does not read open", handS, func(j *Judge) bool {
		return j.snap.Has(warden.InPressOpen)
	})
}

var pressCautions = []string{"Moulds empty, door closed, hands out: the press moves while a hold-to-run button is held."}

func pressStopping(p *rig.Profile) Step {
	limit := p.Press.Stopping
	return Step{
		Title:    "Stopping time of the press",
		Cautions: pressCautions,
		Do: []string{"Hold CLOSE until the press goes at its hold-to-run speed.", "Let CLOSE go.",
			"From its full speed it takes longer: that time is measured at commissioning, the worst of ten."},
		See:   "the travel stands within the time of the profile",
		After: "press open.",
		Limit: fmt.Sprintf("at most %v from the newest snapshot with CLOSE held to the last movement of more than %.1f mm "+
			"(press.stopping of the profile)", limit, stirMM),
		Most: float64(limit.Milliseconds()), Unit: "ms",
		stages: []stage{unlocked(), pressIsOpen(), closes(underMM),
			{act: ActCloseGoes, says: "let CLOSE go", longestS: handS, late: "CLOSE was not let go", ai: none, proves: true,
				look: func(j *Judge) verdict { return stopped(j, limit) }},
		}}.weekly()
}

// stopped times the stop from the newest snapshot with the button held.
func stopped(j *Judge, limit time.Duration) verdict {
	m := &j.memory
	if j.snap.Has(warden.InHoldClose) {
		m.placed, m.leftMs = false, j.snap.StampMs
		return stay
	}
	if m.leftMs == 0 {
		return undone("CLOSE was let go before the press went")
	}
	if !j.stands() {
		if j.snap.StampMs-m.leftMs > 10_000 {
			return failed("the press still moves ten seconds after CLOSE was let go")
		}
		return stay
	}
	ms := m.stirredMs - m.leftMs
	j.measured(float64(ms))
	if uint64(ms) > uint64(limit.Milliseconds()) {
		return failed("the press stopped later than the distances of the rig are worth: look at the brake, its valve and " +
			"its suppressor, and measure anew as at commissioning")
	}
	return next
}

// How long the brake has to hold, and how far it may give, ours.
const (
	brakeMs   = 60_000
	brakeMost = 0.5
)

func pressBrake(p *rig.Profile) Step {
	s := Step{
		Title: "Press brake holds without power",
		Cautions: append(append([]string{}, pressCautions...),
			"A block of wood between the mould halves takes the press if the brake lets go; hands stay out all the same."),
		Do: []string{"Hold CLOSE until the press stands about half-way, with its whole weight, and let go.",
			"Push the emergency stop: nothing but the brake holds it now.", "Wait a minute."},
		See:   "the press does not sink",
		After: "emergency stop out, stop relay and rig reset, press open, block out.",
		Unit:  "mm",
	}
	if !p.Fits("travel") || !p.Fits("hold_close") {
		s.Limit = "by eye: no movement at a mark in ten minutes"
		s.stages = []stage{byEye(ActBrakeMark, "press half-way, power off: does the mark stand for ten minutes? Give what it went in mm",
			"the press sinks without power: mend the brake before anybody reaches in")}
		return s.weekly()
	}
	s.Limit, s.Most = fmt.Sprintf("at most %.1f mm in %d s (ours)", brakeMost, brakeMs/1000), brakeMost
	off := ready(ActEstopPush, "let CLOSE go and push the emergency stop", "the emergency stop was not pushed", handS, func(j *Judge) bool {
		return !j.snap.Has(warden.InHoldClose) && !j.snap.Has(warden.InEstopOK) && j.stands()
	})
	s.stages = []stage{unlocked(), pressIsOpen(), closes(halfway), off,
		{act: ActWait, says: "the press is watched for a minute", proves: true, longestS: workS, late: "no word from the rig",
			ai: int8(warden.AiTravel), look: func(j *Judge) verdict {
				mm, ok := j.travelMM()
				j.place()
				gone := math.Abs(mm - j.memory.fromMM)
				switch {
				case !ok:
					return undone("the travel channel carries no value")
				case j.snap.Has(warden.InEstopOK):
					return undone("the emergency stop was released too early")
				case gone > brakeMost:
					j.measured(gone)
					return failed("the press sinks without power: mend the brake before anybody reaches in")
				case j.lookedMs() >= brakeMs:
					j.measured(gone)
					return next
				}
				return stay
			}},
		ready(ActEstopRelease, "release the emergency stop", "the emergency stop was not released", handS, func(j *Judge) bool {
			return j.snap.Has(warden.InEstopOK)
		})}
	return s.weekly()
}

// reliefShare is how far from its pressure a relief valve may open: common
// practice, no source.
const reliefShare = 0.1

func reliefValve(p *rig.Profile) Step {
	set := float64(p.Press.Relief)
	return Step{
		Title: "Relief valve of the press opens",
		Cautions: []string{"Only who may work at the pressure side, by the maker's instruction, with eye protection; the press " +
			"open on its rest, nobody near."},
		Do: []string{"Raise the pressure slowly with the maker's test device, a gauge at the test port.",
			"Read the pressure at which the valve opens; end at a tenth above it."},
		See:   "it opens at its pressure, by the gauge",
		After: "pressure back, device off.",
		Limit: fmt.Sprintf("%.3g bar, a tenth more or less (press.relief of the profile; common practice, no source)", set),
		Unit:  "bar",
		stages: []stage{reading(ActReliefGauge, "at how many bar does the relief valve open?", func(j *Judge, bar float64) verdict {
			j.measured(bar)
			if math.Abs(bar-set) > reliefShare*set {
				return failed("the relief valve does not open at its pressure: nothing limits the force of the press if its control fails")
			}
			return next
		})},
		Every: year, EveryWhy: "yearly: common practice, no source",
	}
}

// reading is a number that a person reads off an instrument and the step judges.
func reading(act Act, says string, judge func(*Judge, float64) verdict) stage {
	return stage{act: act, says: says + " Answer y and the reading", longestS: workS, late: "nobody answered", ask: AskReading,
		ai: none, answer: func(j *Judge, a Answer) verdict {
			if !a.Yes || math.IsNaN(a.Value) || math.IsInf(a.Value, 0) {
				return undone("no reading was given")
			}
			j.outcome.ByEye = true
			return judge(j, a.Value)
		}}
}
