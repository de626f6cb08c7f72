package warden

import "testing"

// The gases against what is asked (EN 746-2:2010 5.2.3.4: a wrong ratio ends the
// flame; the shares and times are ours).

// flowing holds the measured flows of a burning world to what f makes of the asked.
func (w *world) flowing(ms uint32, f func(fuel, oxygen int) (int, int)) uint32 {
	for n := range ms {
		w.tick()
		a := &w.in.Analog
		fuel, oxygen := f(int(w.out.FuelMl), int(w.out.OxygenMl))
		a[AiFuelFlow], a[AiOxygenFlow] = int16(fuel), int16(oxygen)
		if w.s.Trips != 0 {
			return n + 1
		}
	}
	return 0
}

func TestFlowsAreHeldToWhatIsAsked(t *testing.T) {
	for _, c := range []struct {
		name        string
		f           func(fuel, oxygen int) (int, int)
		first, lock uint8
		atMost      uint32 // ms; 0: no trip
	}{
		{"as asked", func(fuel, oxygen int) (int, int) { return fuel, oxygen }, CauseNone, LockNone, 0},
		{"19 % too much", func(fuel, oxygen int) (int, int) { return fuel * 119 / 100, oxygen }, CauseNone, LockNone, 0},
		{"fuel 22 % too much", func(fuel, oxygen int) (int, int) { return fuel * 122 / 100, oxygen }, CauseFlowOff, LockAbort, 2001},
		{"fuel 22 % too little", func(fuel, oxygen int) (int, int) { return fuel * 78 / 100, oxygen }, CauseFlowOff, LockAbort, 2001},
		{"oxygen 22 % too little", func(fuel, oxygen int) (int, int) { return fuel, oxygen * 78 / 100 }, CauseFlowOff, LockAbort, 2001},
		{"six times the fuel", func(fuel, oxygen int) (int, int) { return fuel * 6, oxygen }, CauseFlowOver, LockLockout, 501},
		{"twice the oxygen", func(fuel, oxygen int) (int, int) { return fuel, oxygen * 2 }, CauseFlowOver, LockLockout, 501},
		{"no oxygen comes", func(fuel, oxygen int) (int, int) { return fuel, 0 }, CauseFlowOff, LockAbort, 2001},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.heat()
			w.run(3000)
			at := w.flowing(6000, c.f)
			w.wantTrip(c.first, c.lock)
			if at > c.atMost {
				t.Errorf("found after %d ms; at most %d", at, c.atMost)
			}
		})
	}
}

// Gas that flows with the valves shut is a leak: 0.2 L/min for 500 ms, whoever asks
// for what, in standby too, and the horn calls.
func TestUnaskedFlowLocksOut(t *testing.T) {
	for _, ai := range []uint8{AiFuelFlow, AiOxygenFlow} {
		w := newWorld(t)
		for range 3000 {
			w.in.Analog[ai] = 200
			w.tick()
			w.in.Analog[ai] = 200
		}
		w.wantTrip(CauseNone, LockNone)
		n := 0
		for ; w.s.Trips == 0 && n < 1000; n++ {
			w.in.Analog[ai] = 201
			w.tick()
		}
		w.wantTrip(CauseFlowOver, LockLockout)
		if n != 500 || w.out.Bits&OutHorn == 0 {
			t.Errorf("locked out after %d ms, outputs %03x; want 500 and the horn", n, w.out.Bits)
		}
	}
}

// A controller that follows a step within a second, or a host that changes its mind
// all the time, trips nothing; a flow that is off the whole band does all the same.
func TestFlowsMayLag(t *testing.T) {
	dithering := func(w *world, n uint32) {
		w.in.Request.FuelMl = 1500 + uint16(n%600) // a ramp of 0.4 s, over and over
	}
	w := newWorld(t)
	w.heat()
	var lag []int16
	for n := range uint32(8000) {
		dithering(w, n)
		w.tick()
		lag = append(lag, int16(w.out.FuelMl))
		if len(lag) > 900 {
			w.in.Analog[AiFuelFlow] = lag[len(lag)-900]
		}
	}
	w.wantTrip(CauseNone, LockNone)
	for n := range uint32(2600) {
		dithering(w, n)
		w.in.Analog[AiFuelFlow] = 1000
		w.tick()
		w.in.Analog[AiFuelFlow] = 1000
	}
	w.wantTrip(CauseFlowOff, LockAbort)
}

// Both gases flow as asked, and what is asked is no flame: fuel-rich or with twice
// the oxygen that burns it.
func TestRatioOutsideItsWindow(t *testing.T) {
	for _, c := range []struct {
		oxygen uint16
		first  uint8
	}{{500, CauseNone}, {499, CauseRatio}, {6000, CauseNone}, {6001, CauseRatio}} {
		w := newWorld(t)
		w.cfg.OxygenMaxMl = 7000
		w.heat()
		w.in.Request.FuelMl, w.in.Request.OxygenMl = 1000, c.oxygen
		w.run(6000)
		lock := LockNone
		if c.first == CauseRatio {
			lock = LockAbort
		}
		w.wantTrip(c.first, lock)
	}
	w := newWorld(t)
	w.cfg.RatioLowPC, w.cfg.RatioHighPC = 0, 0
	w.heat()
	w.in.Request.FuelMl, w.in.Request.OxygenMl = 1000, 300
	w.run(6000)
	w.wantTrip(CauseNone, LockNone)
}

// A meter that cannot be read says nothing, and has nothing to say about what was
// asked before.
func TestABrokenMeterJudgesNothing(t *testing.T) {
	w := newWorld(t)
	w.heat()
	w.run(1000)
	for range 3000 {
		w.in.AnalogOK &^= 1 << AiFuelFlow
		w.tick()
		w.in.Analog[AiFuelFlow] = 0
	}
	w.wantTrip(CauseNone, LockNone)
}
