package proof

import (
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// lightOnly is the stored recipe that steps with a flame are made with.
const lightOnly = "light-only"

// unlocked: a light-up begins from a rig without a lock and at rest.
func unlocked() stage {
	return ready(ActReset, "no lock may stand: acknowledge, reset, RESET at the rig; post-purge ends by itself",
		"the rig stayed locked: something else is wrong", restingS, func(j *Judge) bool {
			return j.snap.Lock == warden.LockNone && j.snap.Burner != warden.BurnerPostPurge
		})
}

// light waits for a moment of a light-up that a person starts at the rig.
func light(says string, is func(*Judge) bool) stage {
	s := ready(ActLight, says, "no light-up within ten minutes", lightS, is)
	s.recipe, s.bit = lightOnly, warden.InFlame
	look := s.look
	s.look = func(j *Judge) verdict {
		if j.snap.Lock != warden.LockNone {
			return undone("the light-up ended: " + safety.Sentence(j.snap.First))
		}
		return look(j)
	}
	return s
}

// lit waits for a flame that burns in order.
func lit() stage {
	return light("arm "+lightOnly+", push START at the rig and wait for the flame", func(j *Judge) bool {
		j.noteLit()
		return j.snap.Burner == warden.BurnerRun && j.snap.Has(warden.InFlame)
	})
}

// noteLit keeps what the times of flame loss and lease count from.
func (j *Judge) noteLit() {
	s, m := &j.snap, &j.memory
	m.session, m.renewedMs = j.session, s.StampMs-10*uint32(s.LeaseCs[0])
	if s.Has(warden.InFlame) {
		m.flameMs = s.StampMs
	}
}

func flameDark(*rig.Profile) Step {
	return Step{
		Title:    "Flame sensor sees darkness",
		Cautions: []string{"Burner out. No other flame, arc or hot glass in front of the sensor."},
		Do:       []string{"See that no flame burns anywhere.", "Wait ten seconds."},
		See:      "the sensor reports no flame",
		After:    "nothing.",
		stages: []stage{
			ready(ActWait, "burner out first", "the burner did not come to rest", restingS, still),
			{act: ActLook, says: "is it dark: no flame anywhere in the sensor's view?", longestS: workS,
				late: "nobody answered", ask: AskYesNo, ai: none, answer: func(_ *Judge, a Answer) verdict {
					if a.Yes {
						return next
					}
					return undone("a flame burns; put it out first")
				}},
			reads(warden.InFlame, false, 10_000, "ten seconds of darkness",
				"the sensor reports a flame where none is: a sensor that fails this way holds the gas open"),
		}}.daily()
}

func flameSeen(*rig.Profile) Step {
	return Step{
		Title: "Flame sensor sees the flame",
		Cautions: []string{"Eye protection, extraction, burner clear, nobody in front of it.",
			"If gas flows and no flame comes, stay away until the post-purge has ended."},
		Do: []string{"Light up with the recipe that is armed for you: push START at the rig.",
			"Look whether a flame burns, and say so."},
		See:   "the sensor reports the flame within the trial for ignition",
		After: "the cycle is stopped for you; RESET at the rig if it is locked.",
		Limit: "within the trial for ignition of the profile",
		Unit:  "ms",
		stages: []stage{unlocked(),
			light("arm "+lightOnly+" and push START at the rig: fuel opens after the purge",
				func(j *Judge) bool { return j.snap.Drives(warden.OutFuel) }),
			{act: ActWait, says: "the trial for ignition", proves: true, longestS: 20,
				late: "no flame was reported", bit: warden.InFlame, ai: none, look: trial},
			{act: ActLook, says: "do you see a flame now, or did you see one during the trial?",
				longestS: workS, late: "nobody answered", ask: AskYesNo, bit: warden.InFlame, ai: none,
				answer: flameVerdict},
		}}.daily()
}

func trial(j *Judge) verdict {
	switch {
	case j.snap.Has(warden.InFlame):
		j.memory.seen = true
		j.measured(float64(j.lookedMs() + snapshotMs)) // fuel opened a snapshot before
		return next
	case j.snap.Drives(warden.OutFuel):
		return stay
	case j.tripped(warden.CauseNoIgnition):
		return next
	}
	return undone("the trial ended early: " + safety.Sentence(j.snap.First))
}

func flameVerdict(j *Judge, a Answer) verdict {
	switch {
	case a.Yes && j.memory.seen:
		return next
	case a.Yes:
		return failed("a flame burned during the trial and the sensor did not report it")
	case j.memory.seen:
		return failed("the sensor reports a flame where none is")
	}
	return undone("no flame burned: look at gas and igniter; nothing is known of the sensor")
}

// lossLimitMs: EN 298 allows one second from flame failure to the valves'
// signal. Nothing is given away for the resolution: the time counts from the
// newest snapshot with a flame to the first one without fuel.
const lossLimitMs = 1000

func flameLoss(*rig.Profile) Step {
	return Step{
		Title: "Flame lost: time until the warden shuts the fuel",
		Cautions: []string{"Eye protection, extraction running. Have the cock at the supply within reach: if fuel " +
			"still flows two seconds after the flame is out, shut it."},
		Do: []string{"Light up with the recipe that is armed for you: push START at the rig.",
			"With the flame burning, cover the sensor, or shut the cock at the burner (not the one at the " +
				"supply: the pressure switch would act first)."},
		See:   "both fuel outputs off, flame loss the first cause",
		After: "sensor free, cock open, RESET at the rig.",
		Limit: "1000 ms from the signal lost to the outputs off (EN 298: 1 s); stamps of 10 ms, read to the worse side",
		Most:  lossLimitMs, Unit: "ms",
		stages: []stage{unlocked(), lit(),
			{act: ActFlameOut, says: "cover the flame sensor, or shut the cock at the burner", proves: true,
				longestS: handS, late: "the flame was to be put out and the sensor still reports it",
				bit: warden.InFlame, ai: none, look: lossVerdict},
		}}.daily()
}

func lossVerdict(j *Judge) verdict {
	s := &j.snap
	open := s.Out&(warden.OutFuel|warden.OutOxygen) != 0
	if s.Has(warden.InFlame) {
		if !open {
			return undone("fuel was shut with the flame still reported: " + safety.Sentence(s.First))
		}
		j.noteLit()
		return stay
	}
	ms := s.StampMs - j.memory.flameMs
	if open {
		if ms > 5*lossLimitMs {
			return failed("fuel is still open five seconds after the flame was lost")
		}
		return stay
	}
	j.measured(float64(ms))
	switch {
	case ms > lossLimitMs: // whatever shut it then, the flame guard was late
		return failed("fuel stayed open for longer than one second after the flame was lost")
	case s.First != warden.CauseFlameLost:
		return undone("fuel was shut, but first for another cause: " + safety.Sentence(s.First))
	}
	return next
}

// fanMs is how long fan and switch may take to show their state.
const fanMs = 10_000

func extraction(*rig.Profile) Step {
	return Step{
		Title: "Extraction switch",
		Cautions: []string{"The purge runs for the profile's time and then the burner lights: block the hood " +
			"during the purge, and leave it if you came too late.", "Keep hands out of the fan."},
		Do: []string{"Wait until the fan stands.", "Push START at the rig: the purge begins.",
			"Block the hood (or the switch's hose) until the switch lets go."},
		See:   "the switch reads no flow at rest, flow in the purge, no flow when blocked",
		After: "hood free; acknowledge and reset; RESET at the rig if it is locked.",
		Limit: "10 s from fan to signal (common practice, no source)",
		stages: []stage{unlocked(),
			ready(ActWait, "the fan must stand", "the fan did not stop", restingS,
				func(j *Judge) bool { return !j.snap.Drives(warden.OutFan) }),
			atRest(),
			light("arm "+lightOnly+" and push START at the rig: the purge begins",
				func(j *Judge) bool { return j.snap.Drives(warden.OutFan) }),
			{act: ActWait, says: "flow must be proven within 10 s", proves: true, longestS: restingS,
				late: "no flow was proven while the fan ran", bit: warden.InExtraction, ai: none, look: flows},
			{act: ActExtractionBlock, says: "block the hood or the switch's hose", proves: true, longestS: handS,
				late: "the flow was to be blocked and the switch still proves it",
				bit:  warden.InExtraction, ai: none, look: blocked},
		}}.yearly()
}

// atRest: the switch must let go once the fan stands; a running-down fan has
// fanMs for that.
func atRest() stage {
	s := reads(warden.InExtraction, false, 0, "no flow at rest", "")
	s.look = func(j *Judge) verdict {
		switch {
		case !j.snap.Has(warden.InExtraction):
			return next
		case j.lookedMs() > fanMs:
			return failed("flow is reported with the fan standing: the switch is stuck")
		}
		return stay
	}
	return s
}

func flows(j *Judge) verdict {
	switch {
	case j.snap.Has(warden.InExtraction):
		return next
	case j.lookedMs() > fanMs:
		return failed("no flow was proven within 10 s of the fan's start")
	}
	return stay
}

func blocked(j *Judge) verdict {
	switch {
	case !j.snap.Drives(warden.OutFan):
		return undone("the fan stopped before the switch was tried")
	case !j.snap.Has(warden.InExtraction):
		return next
	}
	return stay
}
