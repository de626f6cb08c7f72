//go:build avr

package emulated_test

import (
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/firmware/emulated"
	"pressrig/safety/warden"
)

// inject makes something go wrong.
func (l *loop) inject(line string) {
	l.t.Helper()
	f, err := bench.ParseFault(line)
	if err == nil {
		err = l.Rig.Inject(f)
	}
	if err != nil {
		l.t.Fatal(err)
	}
}

// locked checks lock and first cause as the image has them.
func (l *loop) locked(lock uint8, causes ...uint8) {
	l.t.Helper()
	s := &l.newest.State
	for _, c := range causes {
		if s.Lock == lock && s.First == c {
			return
		}
	}
	l.t.Errorf("lock %d by cause %d; %d by one of %v is right", s.Lock, s.First, lock, causes)
}

// SV-021: flame lost to valve outputs off within 1.0 s (EN 676 family, EN 298
// default from memory), from the true flame to the pins of both fuel valves.
func TestFlameLost(t *testing.T) {
	l := newLoop(t, "practice-disc")
	l.fires()
	l.inject("flame_out")
	l.until("the flame is out", 10, func() bool { return !l.Rig.Truth().Flame })
	ms := l.off(warden.OutFuel1, 2000)
	if both := l.off(warden.OutFuel2, 1); ms+both > 1000 || ms < 100 {
		t.Errorf("both valve outputs off %d ms after the flame; 1,000 at most, and no nuisance trip", ms+both)
	}
	l.ms(20)
	l.locked(warden.LockLockout, warden.CauseFlameLost)
	t.Logf("valve outputs off %d ms after the true flame", ms)
}

// SV-042: emergency stop to all energising outputs off in the next tick
// (ISO 13850, stop category 0). The contact is seen by the tick under way or
// the next one: 2 ticks at most.
func TestEmergencyStop(t *testing.T) {
	l := newLoop(t, "practice-disc")
	l.fires()
	l.Rig.SetEstop(true)
	filterMs := int(warden.FilteredInputs[0].Ms) // the emergency stop's
	if ms := l.off(energising|warden.OutPressOpen, 20); ms > filterMs+2 {
		t.Errorf("outputs off after %d ms; %d at most", ms, filterMs+2)
	}
	l.ms(10)
	l.locked(warden.LockLockout, warden.CauseEstop)
	if in := l.newest.Out.Bits & (energising | warden.OutPressOpen); in != 0 {
		t.Errorf("outputs %#x", in)
	}
	l.Rig.SetEstop(false) // SV-043: released, nothing comes back
	l.ms(2000)
	l.locked(warden.LockLockout, warden.CauseEstop)
	if out := l.Rig.Truth().Out & energising; out != 0 {
		t.Errorf("outputs %#x after release", out)
	}
}

// SV-044: the leases of a host that falls silent end 500 ms and one tick after
// its newest request.
func TestLeaseExpiry(t *testing.T) {
	l := newLoop(t, "practice-disc")
	l.fires()
	since, seen := 0, false
	l.each = func(k *emulated.Tick) {
		since++
		if k.In.Fresh != 0 {
			since = 0
		}
		if k.Out.Bits&warden.OutFuel == 0 && !seen {
			seen = true
			if since < 500 || since > 501 {
				t.Errorf("fuel off %d ticks after the newest request; 500 and one: %+v", since, k)
			}
		}
	}
	l.ms(200)
	l.inject("line_cut for 3s")
	l.off(warden.OutFuel, 1000)
	l.ms(10)
	if !seen {
		t.Error("the image keeps fuel open without leases")
	}
	l.locked(warden.LockAbort, warden.CauseLinkLost)
}

// hangs are how a program can stand still.
var hangs = []struct {
	name       string
	interrupts bool
	inTick     bool
}{
	{"in the main loop, interrupts on", true, false},
	{"in the main loop, interrupts off", false, false},
	{"in the tick, interrupts on", true, true},
	{"in the tick, interrupts off", false, true},
}

const (
	watchdogMs = 18 // 16 ms nominal and a tick (data sheet: 2,048 cycles of a 128 kHz oscillator, 5 V)
	guardTicks = 3  // the clock's interrupt notices two ticks without an end, and a tick
)

// A hung program is reset by the watchdog in its time. Where the millisecond
// hangs and interrupts still run, the next ones have the energising outputs off
// before; where the main loop hangs and the millisecond does not, the warden goes
// on till the reset. Off they stay through the boot, and the restart is a
// lockout, because fuel was open.
func TestHungProgram(t *testing.T) {
	for _, c := range hangs {
		t.Run(c.name, func(t *testing.T) {
			l := newLoop(t, "practice-disc")
			l.fires()
			resets, boots := l.board.Figures.Resets, l.boots
			l.board.Hang(c.interrupts, c.inTick)
			off := l.off(energising, watchdogMs+1)
			if most := map[bool]int{true: guardTicks, false: watchdogMs}[c.interrupts && c.inTick]; off > most {
				t.Errorf("outputs off after %d ms; %d at most", off, most)
			}
			reset := off
			for ; l.board.Figures.Resets == resets && reset < 100; reset++ {
				l.quiet(1)
			}
			if reset > watchdogMs {
				t.Errorf("reset after %d ms; %d at most", reset, watchdogMs)
			}
			for l.boots == boots {
				l.quiet(1)
			}
			l.quiet(1000)
			l.locked(warden.LockLockout, warden.CauseRestart)
			t.Logf("outputs off after %d ms, reset after %d ms", off, reset)
		})
	}
}

// quiet lets n milliseconds pass in which no energising output may be driven,
// not even for a moment.
func (l *loop) quiet(n int) {
	l.t.Helper()
	for range n {
		l.ms(1)
		if high := l.board.Figures.High & energising; high != 0 {
			l.t.Fatalf("outputs %#x driven", high)
		}
		if l.board.Err() != nil {
			l.t.Fatal(l.board.Err())
		}
	}
}

// SV-029: power lost in a lockout, or with fuel open, is a lockout when power
// comes back; the host does not clear it, RESET at the rig does.
func TestPowerLossKeepsLockout(t *testing.T) {
	l := newLoop(t, "practice-disc")
	unlock := func(cause uint8) {
		t.Helper()
		l.quiet(3000)
		l.locked(warden.LockLockout, cause)
		l.Ack()
		l.ms(100)
		l.Command(controller.Reset)
		l.quiet(1000)
		l.locked(warden.LockLockout, cause)
		if !l.BackToIdle(120_000, func() bool { return false }) {
			t.Fatalf("not idle again: %+v", l.newest.State)
		}
	}
	l.Rig.SetEstop(true)
	l.ms(500)
	l.locked(warden.LockLockout, warden.CauseEstop)
	l.Rig.SetEstop(false)
	for _, cause := range []uint8{emulated.PowerOn, emulated.BrownOut} {
		l.board.Cut()
		l.quiet(50)
		l.board.Power(cause)
		l.quiet(3000)
		l.locked(warden.LockLockout, warden.CauseRestart)
	}
	unlock(warden.CauseRestart)
	l.fires()
	l.board.Power(emulated.BrownOut)
	unlock(warden.CauseRestart)
}

// Power cut at any moment of writing the byte, and the cell that was being
// written left with other bits: from the first cell on the lockout is not
// forgotten, and what cannot be read is a lockout. A lockout in which power goes
// before the first cell is begun is forgotten where no fuel was open: what no
// memory has taken it cannot give. Fuel opens long after its byte is kept.
func TestTornMemory(t *testing.T) {
	l := newLoop(t, "practice-disc")
	l.mayForget = true
	l.ms(500)
	clear := l.board.EEPROM()
	forgotten, locked := 0, 0
	for ms := range 60 {
		for _, torn := range []uint8{0, 0xFF, 0x5A} {
			l.Rig.SetEstop(true)
			l.until("the emergency stop is seen", 20, func() bool { return l.newest.State.First == warden.CauseEstop })
			l.ms(ms)
			l.board.Tear(emulated.BrownOut, torn)
			begun := !same(clear, l.board.EEPROM())
			l.Rig.SetEstop(false)
			boots := l.boots
			for l.boots == boots {
				l.quiet(1)
			}
			l.quiet(100)
			switch lock := l.newest.State.Lock; {
			case lock == warden.LockLockout:
				locked++
			case begun:
				t.Fatalf("power cut %d ms after the stop, bits %#x torn: lock %d, and writing had begun", ms, torn, lock)
			default:
				forgotten++
			}
			l.Rig.Press(bench.ButtonReset, 200)
			l.until("no lock", 2000, func() bool { return l.newest.State.Lock == warden.LockNone })
			l.ms(500)
			clear = l.board.EEPROM()
		}
	}
	if locked < 100 {
		t.Errorf("%d of %d cuts were a lockout afterwards", locked, locked+forgotten)
	}
	t.Logf("%d cuts: %d locked, %d came before the first cell was written", locked+forgotten, locked, forgotten)
}

func same(a, b []byte) bool { return string(a) == string(b) }

// boardFaults are the faults of the microcontroller itself.
func TestFaultsOfTheBoard(t *testing.T) {
	for _, c := range []struct {
		fault  string
		causes []uint8
		lock   uint8
	}{
		{"mcu_reset for 20ms", []uint8{warden.CauseRestart}, warden.LockLockout},
		{"mcu_hang for 30ms", []uint8{warden.CauseRestart}, warden.LockLockout},
	} {
		t.Run(c.fault, func(t *testing.T) {
			l := newLoop(t, "practice-disc")
			l.fires()
			l.inject(c.fault)
			l.ms(50)
			l.quiet(3000)
			l.locked(c.lock, c.causes...)
		})
	}
	t.Run("nv_dead", func(t *testing.T) { // row 41, within 1 s of the first byte that is not taken
		l := newLoop(t, "practice-disc")
		l.inject("nv_dead")
		l.starts(1)
		l.until("the memory is found dead", 60_000, func() bool { return l.newest.State.First == warden.CauseNV })
		l.locked(warden.LockLockout, warden.CauseNV)
		if truth := l.Rig.Truth(); truth.UnburntMs > 4000 {
			t.Errorf("%d ms of unburnt fuel", truth.UnburntMs)
		}
	})
}
