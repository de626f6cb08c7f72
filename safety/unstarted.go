package safety

import (
	"strings"

	"pressrig/safety/warden"
)

// Unstarted is one thing that may move, burn or stay on although START does not
// stand: none was pushed, or an opened door or the host has taken it back.
type Unstarted struct {
	What string // as docs/safety.md lists it
	Bits uint16 // outputs that it answers for
	May  func(*Standing) bool
}

// Standing is a tick in which START does not stand.
type Standing struct {
	Config *warden.Config
	Tick
	Was *warden.Output // driven in the tick before
}

// WithoutStart is the whole list, for docs/safety.md and for the walk that tries
// everything but START.
var WithoutStart = [...]Unstarted{
	{"**hold-to-run, *open***: one hand, the door open or closed", warden.OutPressOpen, func(s *Standing) bool {
		return s.After.Press == warden.PressHandOpen && s.pressed(warden.InHoldOpen) && s.Out.SpeedCmms <= s.Config.HandCmms
	}},
	{"**hold-to-run, *close slow***: no cycle, no flame, no lock, never past contact; with the door open the other hand held",
		warden.OutPressClose, func(s *Standing) bool {
			return s.After.Press == warden.PressHandClose && s.pressed(warden.InHoldClose) && s.guarded() &&
				s.After.Started == 0 && s.After.Lock == warden.LockNone && s.Out.Bits&warden.OutFuel == 0 &&
				s.Out.SpeedCmms <= s.Config.HandCmms && s.Out.ForceDN <= s.Config.ContactDN
		}},
	{"**hold-to-run, *turn***: in set-up; with the door open the other hand held", warden.OutSpindle, func(s *Standing) bool {
		return s.After.Spindle == warden.SpindleHand && s.pressed(warden.InHoldTurn) && s.pressed(warden.InSetUp) &&
			s.guarded() && s.Out.SpindleDrpm <= s.Config.SetUpDrpm
	}},
	{"**a stroke under two hands** in a cycle that START began, for as long as both are held",
		warden.OutPressClose | warden.OutPressOpen, func(s *Standing) bool {
			return s.After.Started != 0 && s.pressed(warden.InTwoHandLeft) && s.pressed(warden.InTwoHandRight)
		}},
	{"**opening as a reaction** of the warden, the door closed: fully, above contact (rows 3, 10, 11, 15, 31), and in " +
		"contact after a lost flame, slowly and under the pull limit (row 3)",
		warden.OutPressOpen, func(s *Standing) bool {
			want := strongestTyped(s.After.Trips | s.After.Present)
			retracts := s.After.Touching == 0 && want.Above == warden.PressRetract
			parts := s.After.Touching != 0 && want.Contact == warden.PressToPart &&
				s.Out.SpeedCmms <= s.Config.PartCmms && s.Out.ForceDN <= s.Config.PullMaxDN
			return s.After.Press == warden.PressOpening && (retracts || parts) && s.has(warden.InDoorClosed) &&
				!s.has(warden.InPressOpen)
		}},
	{"**force that is eased**: less in every tick, 1 s at most", warden.OutPressClose, func(s *Standing) bool {
		return s.After.Press == warden.PressEasing && s.ran(warden.OutPressClose) &&
			(s.Out.ForceDN < s.Was.ForceDN || s.After.EaseDN == s.Was.ForceDN)
	}},
	{"**a turning spindle that creeps**, 120 s at most, **or ramps down**", warden.OutSpindle, func(s *Standing) bool {
		creeps := s.After.Spindle == warden.SpindleCreep && s.Out.SpindleDrpm <= s.Config.CreepDrpm
		ramps := s.After.Spindle == warden.SpindleRamp && s.Out.SpindleDrpm == 0
		return s.ran(warden.OutSpindle) && (creeps || ramps)
	}},
	{"**a spindle that turned already**, no faster, if it is still asked for", warden.OutSpindle, func(s *Standing) bool {
		return s.ran(warden.OutSpindle) && s.After.Spindle == warden.SpindleRun && s.Out.SpindleDrpm <= s.Was.SpindleDrpm
	}},
	{"**a soft flame that burnt already**, fuel alone, if it is still asked for", warden.OutFuel, func(s *Standing) bool {
		return s.ran(warden.OutFuel) && s.Out.FuelMl <= s.Config.SoftMaxMl
	}},
	{"**a burner that stood at the blank already**, if it is still asked for", warden.OutBurnerIn, func(s *Standing) bool {
		return s.ran(warden.OutBurnerIn)
	}},
	{"**the extraction fan** that ran already; a standing one after a leak, where the profile says that it cannot spark there",
		warden.OutFan, func(s *Standing) bool {
			return s.ran(warden.OutFan) || leaks(&s.Tick) && s.Config.Options&warden.OptFanSafe != 0
		}},
	{"**brake, horn and lamps**", warden.OutBrake | warden.OutHorn | warden.OutArmedLamp | warden.OutLockLamp,
		func(*Standing) bool { return true }},
}

// Unlisted are the outputs that are on and that nothing of the list answers for;
// by are the lines that answered for the others, bit 1<<line.
func (s *Standing) Unlisted() (left uint16, by uint32) {
	left = s.Out.Bits
	for i := range WithoutStart {
		if u := &WithoutStart[i]; left&u.Bits != 0 && u.May(s) {
			left &^= u.Bits
			by |= 1 << i
		}
	}
	return left, by
}

func (s *Standing) has(bit uint32) bool     { return s.In.Bits&bit != 0 }
func (s *Standing) pressed(bit uint32) bool { return s.Config.FittedIn&s.In.Bits&bit != 0 }

// ran: the output was on in the tick before.
func (s *Standing) ran(bits uint16) bool { return s.Was.Bits&bits != 0 }

// guarded: the door is closed, or the other hand is held.
func (s *Standing) guarded() bool {
	return s.has(warden.InDoorClosed) || s.pressed(warden.InTwoHandLeft)
}

func unstartedMarkdown() string {
	var b strings.Builder
	for i := range WithoutStart {
		b.WriteString("- " + WithoutStart[i].What + ";\n")
	}
	return strings.TrimSuffix(b.String(), ";\n") + ".\n"
}
