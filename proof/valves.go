package proof

import (
	"fmt"

	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
)

const (
	holdMs     = 120_000 // trapped pressure stands this long
	averageMs  = 1_000   // and is averaged at both ends over this
	airBar     = 1.01325
	leakShare  = 0.001        // of the largest flow, and at most
	leakMostMl = 50_000. / 60 // 50 dm3/h, what EN 1643 has a valve proving system find (from memory)
)

// dropLimitBar is how much trapped pressure a seat may lose in holdMs: the
// volume that leaks in that time at the allowed leak, over the line's volume.
func dropLimitBar(largest units.LitrePerMinute, line units.Litre) float64 {
	leakMl := min(leakShare*1000*float64(largest), leakMostMl)
	return leakMl * holdMs / 60_000 / (1000 * float64(line)) * airBar
}

// trapped is the proof of a seat by the pressure that it holds, measured where
// the rig has a pressure channel and its line's volume was measured.
func trapped(p *rig.Profile, s Step, act Act, ai uint8, largest units.LitrePerMinute, line units.Litre) Step {
	s.After = "test cock shut, cock at the supply open."
	s.Unit = "bar"
	atRest := ready(ActWait, "burner out first", "the burner did not come to rest", restingS, still)
	if line <= 0 || !p.Fits(rig.Analogs[ai].Name) {
		s.Limit = "by eye: no visible drop on a gauge in two minutes"
		s.stages = []stage{atRest, byEye(act, "shut the cocks as written; does the gauge hold for two minutes? "+
			"Give the drop in bar", seatLeaks)}
		return s.yearly()
	}
	s.Most = dropLimitBar(largest, line)
	s.Limit = fmt.Sprintf("at most %.3f bar lost in %d s: 0.1 %% of the largest flow, at most 50 dm3/h, out of %g L "+
		"(EN 1643, from memory)", s.Most, holdMs/1000, float64(line))
	s.stages = []stage{atRest,
		{act: act, says: "shut the cocks as written, then answer yes", longestS: workS, late: "nobody answered",
			ask: AskYesNo, ai: int8(ai), answer: func(_ *Judge, a Answer) verdict {
				if a.Yes {
					return next
				}
				return undone("the cocks were not shut")
			}},
		{act: ActWait, says: fmt.Sprintf("the trapped pressure is watched for %d s", holdMs/1000), proves: true,
			longestS: workS, late: "no word from the rig", ai: int8(ai),
			look: func(j *Judge) verdict { return hold(j, ai, s.Most) }},
	}
	return s.yearly()
}

// hold averages the pressure at both ends of the wait. A seat that leaks
// plainly fails before its end.
func hold(j *Judge, ai uint8, mostBar float64) verdict {
	bar, ok := j.bar(ai)
	if !ok {
		return undone("the pressure channel carries no value")
	}
	m, ms := &j.memory, j.lookedMs()
	if ms == 0 {
		m.sum, m.n, m.startBar = 0, 0, 0
	}
	switch {
	case ms < averageMs:
		m.sum, m.n = m.sum+bar, m.n+1
		return stay
	case m.startBar == 0:
		m.startBar = m.sum / float64(m.n)
		m.sum, m.n = 0, 0
		if m.startBar < 2*mostBar {
			return undone(fmt.Sprintf("only %.3f bar stand in the line; at least %.3f are needed to tell", m.startBar, 2*mostBar))
		}
	case ms >= holdMs-averageMs && ms < holdMs:
		m.sum, m.n = m.sum+bar, m.n+1
	case ms >= holdMs:
		if m.n == 0 {
			return undone("the rig was silent at the end of the wait")
		}
		drop := m.startBar - m.sum/float64(m.n)
		j.measured(drop)
		if drop > mostBar {
			return failed("the trapped pressure fell by more than the limit: the seat leaks; repair or replace the valve")
		}
		return next
	}
	return stay
}

// byEye is decided by what a person reads off a gauge or a mark.
func byEye(act Act, says, no string) stage {
	return stage{act: act, says: says, longestS: workS, late: "nobody answered",
		ask: AskReading, ai: none, answer: func(j *Judge, a Answer) verdict {
			j.outcome.ByEye = true
			j.measured(a.Value)
			if a.Yes {
				return next
			}
			return failed(no)
		}}
}

const seatLeaks = "the gauge did not hold: the seat leaks; repair or replace the valve"

var gasCautions = []string{"Burner out, no flame, no spark, extraction running by hand where it can.",
	"What the test cock lets out goes outdoors by a hose."}

func fuelValve1(p *rig.Profile) Step {
	return trapped(p, Step{
		Title:    "First fuel valve is tight",
		Cautions: gasCautions,
		Do: []string{"Shut the fuel cock at the supply.",
			"Open the test cock between the two fuel valves: only the first valve holds the line now.", "Wait."},
		See: "the trapped pressure before the first valve stands",
	}, ActFuelTrap, warden.AiFuelPressure, p.Gas.FuelMax, p.Gas.FuelLine)
}

func fuelValve2(p *rig.Profile) Step {
	return Step{
		Title:    "Second fuel valve is tight",
		Cautions: gasCautions,
		Do: []string{"After the burner has been shut in order, shut the fuel cock at the supply.",
			"Put a gauge on the test cock between the two fuel valves and read it; if it shows nothing, light up " +
				"and shut once more: the gas between the valves is what is watched.",
			"Read it again after two minutes."},
		See:   "the pressure between the valves stands",
		After: "gauge off, test cock shut, cock at the supply open.",
		Limit: "by eye: no visible drop on a gauge in two minutes",
		Unit:  "bar",
		stages: []stage{
			ready(ActWait, "burner out first", "the burner did not come to rest", restingS, still),
			byEye(ActFuelGauge, "read the gauge between the valves for two minutes: does it hold? Give the drop in bar", seatLeaks),
		}}.yearly()
}

func oxygenValve(p *rig.Profile) Step {
	return trapped(p, Step{
		Title:    "Oxygen valve is tight",
		Cautions: []string{"Burner out, no flame. No oil or grease at oxygen fittings."},
		Do:       []string{"Shut the oxygen cock at the supply.", "Wait."},
		See:      "the trapped pressure before the oxygen valve stands",
	}, ActOxygenTrap, warden.AiOxygenPressure, p.Gas.OxygenMax, p.Gas.OxygenLine)
}
