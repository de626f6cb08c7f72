package proof_test

import (
	"math"
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/proof"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// person makes every proof step of a simulated rig as a correct person would,
// in virtual time, through machine, wire, warden and plant.
type person struct {
	t       *testing.T
	profile *rig.Profile
	h       *rehearse.Rehearsal
	cycle   uint32
	judge   *proof.Judge
	step    *proof.Step
	at      proof.Progress
	answer  *proof.Answer
	gauge   float64 // between the valves when it was put on
	did     proof.Act
	pairs   int // how often both hands were held
	stage   int
	sinceMs uint64 // when this act was asked for
}

func newPerson(t *testing.T, profile string, step stepFunc) *person {
	t.Helper()
	p, err := rig.Builtin(profile)
	if err != nil {
		t.Fatal(err)
	}
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: 7, Warden: step})
	if err != nil {
		t.Fatal(err)
	}
	w := &person{t: t, profile: p, h: h}
	h.Steps = w.feed
	return w
}

type stepFunc = func(*warden.Config, *warden.State, *warden.Input, *warden.Output)

// feed hands each step of the machine to the judge, as the daemon does.
func (w *person) feed(in *controller.Input, _ *controller.Output) {
	if w.judge == nil {
		return
	}
	w.judge.Feed(proof.Input{ElapsedMs: in.ElapsedMs, Snap: in.Snap, Session: in.Session, Answer: w.answer})
	w.at = w.judge.Progress()
	w.answer = nil
}

// prove makes one step and puts everything back afterwards.
func (w *person) prove(s *proof.Step) proof.Progress {
	w.t.Helper()
	w.judge, w.step = proof.NewJudge(w.profile, s), s
	w.judge.Feed(proof.Input{ElapsedMs: w.h.Rig.Ms()})
	w.at = w.judge.Progress()
	w.did, w.stage = "", -1
	if !w.h.Run(40*60*1000, func() bool { w.act(); return w.at.Result != proof.Waiting }) {
		w.t.Fatalf("%s did not end: %+v", s.Function, w.at)
	}
	end := w.at
	w.judge = nil
	w.putBack()
	return end
}

// act does what is asked for, once.
func (w *person) act() {
	r := w.h.Rig
	if w.at.Stage != w.stage || w.at.Act != w.did {
		w.stage, w.did, w.sinceMs = w.at.Stage, w.at.Act, r.Ms()
		w.hands()
	}
	switch w.at.Act {
	case proof.ActLight:
		w.light()
	case proof.ActReset:
		w.unlock()
	case proof.ActCableIn:
		if r.Ms()-w.sinceMs == 3000 {
			r.Clear("line_cut")
		}
	case proof.ActHandsLate:
		if r.Ms()-w.sinceMs == 700 {
			r.Press(bench.ButtonClose, 1000)
		}
	case proof.ActTachometer:
		if r.Ms()-w.sinceMs == 3000 {
			w.say(true, r.Truth().SpindleRPM)
		}
	case proof.ActStands:
		if r.Ms()-w.sinceMs == 3000 {
			w.say(r.Truth().SpindleRPM == 0, math.NaN())
		}
	case proof.ActKeyWire:
		if r.Ms()-w.sinceMs == 1000 {
			w.say(true, math.NaN())
		}
	case proof.ActBusV:
		if r.Ms()-w.sinceMs == 1000 {
			w.say(true, r.Truth().BusAV)
		}
	case proof.ActFuelGauge:
		switch since := r.Ms() - w.sinceMs; {
		case since == 1:
			w.gauge = r.Truth().BetweenBar
		case since == 120_000:
			drop := w.gauge - r.Truth().BetweenBar
			w.say(w.gauge > 0.1 && drop < 0.01, drop)
		}
	}
}

// hands is what is done at once when an act is asked for.
func (w *person) hands() {
	r := w.h.Rig
	switch w.at.Act {
	case proof.ActEstopPush, proof.ActEstopRelease:
		r.SetEstop(w.at.Act == proof.ActEstopPush)
	case proof.ActDoorOpen, proof.ActDoorClose:
		r.SetDoor(w.at.Act == proof.ActDoorClose)
	case proof.ActPowerCycle:
		r.Reset()
	case proof.ActPulseOut:
		w.fault("pulse_lost")
		w.say(true, math.NaN())
	case proof.ActPulseBack:
		r.Clear("pulse_lost")
		w.say(true, math.NaN())
	case proof.ActPressCloses:
		r.Press(bench.ButtonClose, map[string]uint32{"door": 2500, "press_stopping": 800, "press_brake": 2000}[w.step.Function])
		r.Hand(bench.HandLeverClose)
	case proof.ActBrakeMark:
		w.say(true, 0)
	case proof.ActReliefGauge:
		w.say(true, r.Truth().ReliefBar)
	case proof.ActTurn:
		r.Press(bench.ButtonTurn, map[string]uint32{"spindle_sensor": 8000, "spindle_run_down": 4000, "safe_torque_off": 4000}[w.step.Function])
	case proof.ActTorqueOff:
		r.Press(bench.ButtonTurn, 31_000)
		w.fault("sto_open")
	case proof.ActTorqueOn:
		r.Clear("sto_open")
		w.say(true, math.NaN())
	case proof.ActLeakGive:
		if w.profile.Fits("gas_alarm") {
			w.fault("by_hand gas_alarm on")
		} else {
			w.fault("by_hand flame on")
		}
	case proof.ActKeyRun:
		r.SetSetUp(false)
	case proof.ActKeyWire:
		r.SetSetUp(true)
		w.fault("by_hand set_up off")
	case proof.ActKeyWireBack:
		r.Clear("by_hand")
	case proof.ActFuelLow:
		w.fault("fuel_pressure 40 %")
	case proof.ActFuelHigh:
		w.fault("fuel_pressure 170 %")
	case proof.ActOxygenLow:
		w.fault("oxygen_pressure 40 %")
	case proof.ActOxygenHigh:
		w.fault("oxygen_pressure 170 %")
	case proof.ActFuelUsual:
		r.Clear("fuel_pressure")
	case proof.ActOxygenUsual:
		r.Clear("oxygen_pressure")
	case proof.ActPressAway:
		r.Press(bench.ButtonClose, 500)
		r.Hand(bench.HandLeverClose)
	case proof.ActPressHome:
		if w.h.Snap.Has(warden.InPressOpen) {
			return
		}
		r.Press(bench.ButtonOpen, 3000)
		r.Hand(bench.HandLeverOpen)
	case proof.ActHandLeft:
		r.Press(bench.ButtonLeft, 300)
	case proof.ActHandRight:
		r.Press(bench.ButtonRight, 300)
	case proof.ActSetUp:
		r.SetSetUp(true)
	case proof.ActCloseAlone:
		r.Press(bench.ButtonClose, 900)
	case proof.ActLeftAlone:
		r.Press(bench.ButtonLeft, 900)
	case proof.ActWrongPair:
		r.Press(bench.ButtonRight, 900)
		r.Press(bench.ButtonClose, 900)
	case proof.ActTurnAlone:
		r.Press(bench.ButtonTurn, 900)
	case proof.ActTurnTogether:
		r.Press(bench.ButtonLeft, 4000)
		r.Press(bench.ButtonTurn, 12_000)
	case proof.ActHandsLate:
		r.Press(bench.ButtonLeft, 2200)
	case proof.ActHandsTogether:
		w.pairs++
		leftMs, closeMs := uint32(700), uint32(2000)
		if w.pairs%2 == 0 {
			leftMs, closeMs = closeMs, leftMs
		}
		r.Press(bench.ButtonLeft, leftMs)
		r.Press(bench.ButtonClose, closeMs)
	case proof.ActEndPush:
		w.fault("by_hand press_end on")
	case proof.ActForcePush:
		w.fault("by_hand over_force on")
	case proof.ActGasGive:
		w.fault("by_hand gas_alarm on")
	case proof.ActFlashbackPush:
		w.fault("by_hand flashback on")
	case proof.ActEndRelease, proof.ActForceRelease, proof.ActGasEnd, proof.ActFlashbackEnd, proof.ActLeakEnd:
		r.Clear("by_hand")
	case proof.ActExtractionBlock:
		w.fault("by_hand extraction off")
	case proof.ActFlameOut:
		r.Hand(bench.HandBurnerCockShut)
	case proof.ActCableOut:
		w.fault("line_cut")
	case proof.ActFuelTrap:
		r.Hand(bench.HandFuelCockShut)
		r.Hand(bench.HandTestCockOpen)
		w.say(true, math.NaN())
	case proof.ActOxygenTrap:
		r.Hand(bench.HandOxygenCockShut)
		w.say(true, math.NaN())
	case proof.ActFuelGauge:
		r.Hand(bench.HandFuelCockShut)
	case proof.ActHear:
		w.say(r.Truth().Horn, math.NaN())
	case proof.ActSeeLamp:
		w.say(r.Truth().LockLamp, math.NaN())
	case proof.ActDoorPower: // with the door itself: the relay has channels of its own, not the board's
		w.say(!r.Truth().DoorPower, math.NaN())
	case proof.ActLook:
		w.look()
	}
}

// look answers with what a person's eye sees.
func (w *person) look() {
	truth := w.h.Rig.Truth()
	switch w.step.Function {
	case "estop": // the supply hangs on the loop itself, not on software
		w.say(truth.Estop, math.NaN())
	case "flame_dark":
		w.say(!truth.Flame, math.NaN())
	case "flame_seen":
		w.say(truth.Flame || truth.FlameOutMs > 0 && truth.FlameOutMs+10_000 > truth.Ms, math.NaN())
	default:
		w.t.Fatalf("%s asks to look: %+v", w.step.Function, w.at)
	}
}

func (w *person) say(yes bool, value float64) { w.answer = &proof.Answer{Yes: yes, Value: value} }

func (w *person) fault(line string) {
	w.t.Helper()
	f, err := bench.ParseFault(line)
	if err == nil {
		err = w.h.Rig.Inject(f)
	}
	if err != nil {
		w.t.Fatal(err)
	}
}

// light arms the recipe that is asked for when no cycle runs.
func (w *person) light() {
	if w.h.State() != controller.Idle || w.h.Snap.Lock != warden.LockNone || w.h.Rig.Ms()%500 != 0 {
		w.unlock()
		return
	}
	sample, err := recipes.Named(w.at.Recipe)
	if err != nil {
		w.t.Fatal(err)
	}
	r, err := recipes.Parse(sample.Name+".yaml", sample.Text, w.profile)
	if err != nil {
		w.t.Fatal(err)
	}
	w.cycle++
	w.h.Start(controller.Job{Cycle: w.cycle, Run: w.cycle, Piece: 1, Last: true, By: "Ada", Recipe: r})
}

// unlock acknowledges and resets, at the desk and at the rig, as often as it
// takes. A cycle that runs is left alone.
func (w *person) unlock() {
	h := w.h
	if h.Rig.Ms()%700 != 0 {
		return
	}
	switch {
	case h.Snap.Lock == warden.LockLockout:
		h.Rig.Press(bench.ButtonReset, 200)
	case h.Out.Status.AckNeeded:
		h.Ack()
	case h.Ended() || h.State() == controller.Idle && h.Snap.Lock != warden.LockNone:
		h.Command(controller.Reset)
	}
}

// putBack leaves the rig as a proof found it.
func (w *person) putBack() {
	h, r := w.h, w.h.Rig
	for _, name := range []string{"pulse_lost", "sto_open", "fuel_pressure", "oxygen_pressure", "by_hand", "line_cut"} {
		r.Clear(name)
	}
	r.SetEstop(false)
	r.SetDoor(true)
	r.SetSetUp(false)
	r.Hand(bench.HandLeverRest)
	for _, hand := range []bench.Hand{bench.HandFuelCockOpen, bench.HandOxygenCockOpen, bench.HandBurnerCockOpen,
		bench.HandTestCockShut} {
		r.Hand(hand)
	}
	const buttons = warden.InHoldOpen | warden.InHoldClose | warden.InHoldTurn | warden.InTwoHandLeft | warden.InTwoHandRight
	n := 0
	h.Run(150_000, func() bool {
		if n%3000 == 2000 && !h.Snap.Has(warden.InPressOpen) {
			r.Press(bench.ButtonOpen, 2500)
			r.Hand(bench.HandLeverOpen)
		}
		if n++; h.State() == controller.Running && n > 1 {
			h.Command(controller.Stop)
		}
		w.unlock()
		return h.State() == controller.Idle && h.Snap.Lock == warden.LockNone &&
			h.Snap.Burner == warden.BurnerStandby && h.Snap.Has(warden.InPressOpen) && h.Snap.In&buttons == 0 && n > 2000
	})
}
