package bench

import (
	"testing"

	"pressrig/safety/warden"
)

// A board that hangs with its gas open loses it by the outside watchdog, which
// restarts nothing; a dead one leaves it open.
func TestHungBoardLosesTheGas(t *testing.T) {
	for _, dead := range []bool{false, true} {
		h := lit(t)
		if dead {
			with(t, h, "watchdog_dead", 0, 0)
		}
		with(t, h, "mcu_hang", 0, 0)
		h.ms(watchdogMs + valveMs + 10)
		truth := h.r.Truth()
		if truth.FuelOpen != dead || truth.Session != 1 || (truth.BusAV > 0) != dead {
			t.Errorf("watchdog dead %v: fuel open %v, bus A %v V, session %d", dead, truth.FuelOpen, truth.BusAV, truth.Session)
		}
		h.ms(20_000)
		if truth = h.r.Truth(); truth.FuelOpen != dead || truth.Session != 1 {
			t.Errorf("watchdog dead %v: fuel open %v, session %d after 20 s", dead, truth.FuelOpen, truth.Session)
		}
		h.r.Clear("mcu_hang")
		h.ms(2000)
		if truth = h.r.Truth(); truth.FuelOpen || truth.Session != 2 || truth.Lock != warden.LockLockout {
			t.Errorf("watchdog dead %v: fuel open %v, session %d, lock %d after the restart", dead, truth.FuelOpen, truth.Session, truth.Lock)
		}
	}
}

// The pulse alone: the board lives on and reads the contact open; the fan, which
// hangs on no bus, goes on.
func TestPulseLostOpensBusAAndNothingElse(t *testing.T) {
	h := lit(t)
	h.ms(1000)
	with(t, h, "pulse_lost", 0, 500)
	h.ms(watchdogMs - 1)
	if h.r.driven().Bits&warden.OutFuel == 0 {
		t.Error("bus A opened before the watchdog's time")
	}
	h.ms(2)
	truth := h.r.Truth()
	if truth.Out&dangerous != 0 || truth.Out&warden.OutFan == 0 || truth.Out&warden.OutBrake == 0 || truth.Session != 1 {
		t.Errorf("outputs %#x, session %d: fan and brake only, the same session", truth.Out, truth.Session)
	}
	h.ms(450 + pulseMs)
	if h.r.mcu.in.Bits&warden.InWatchdogOK == 0 {
		t.Error("the contact stays open with the pulse back")
	}
}
