package bench

import (
	"math"

	"pressrig/safety/warden"
)

// Numbers of the rest of the machine [common practice, no source].
const (
	slideMs       = 400  // burner slide, end to end
	fanTauS       = 0.93 // fan: 80 % of its flow after 1.5 s
	fanMakes      = 0.80 // extraction switch
	fanBreaks     = 0.70
	spindleTauS   = 0.15 // driven
	spindleCoastS = 0.8  // unpowered
	spindleSnap   = 0.5  // rpm below which it stands
)

// slide carries the burner: 0 clear, 1 at the blank.
type slide struct {
	at   float64
	in   bool // where the hand wants it, where a hand moves it
	kind slideKind
}

type slideKind uint8

const (
	slideDriven slideKind = 0
	slideHand   slideKind = 1
	slideFixed  slideKind = 2
)

func (s *slide) step(out *warden.Output, up *upsets) {
	if s.kind == slideFixed {
		s.at = 1
		return
	}
	in := s.in
	if s.kind == slideDriven {
		in = out.Bits&warden.OutBurnerIn != 0
	}
	if up.slideJam {
		return
	}
	if in {
		s.at = min(1, s.at+1.0/slideMs)
	} else {
		s.at = max(0, s.at-1.0/slideMs)
	}
}

func (s *slide) atBlank() bool { return s.at > 0.99 }
func (s *slide) clear() bool   { return s.at < 0.01 }

// fan is the extraction.
type fan struct {
	flow   float64 // share of full
	proven bool
}

func (f *fan) step(out *warden.Output, up *upsets) {
	wanted := 0.0
	if out.Bits&warden.OutFan != 0 && !up.extractionFail {
		wanted = 1
	}
	f.flow = follow(f.flow, wanted, 0.001/fanTauS)
	if f.flow >= fanMakes {
		f.proven = true
	} else if f.flow < fanBreaks {
		f.proven = false
	}
}

// spindle is the chuck drive.
type spindle struct {
	rpm    float64 // below zero backwards
	stillS float64
	overMs uint32 // that it has run on
}

func (s *spindle) step(out *warden.Output, up *upsets) {
	wanted, tau := 0.0, spindleCoastS
	if out.Bits&warden.OutSpindle != 0 {
		wanted, tau = up.spindleSpeed.gives(float64(out.SpindleDrpm)/10), spindleTauS
	} else if up.spindleSpeed.stuck {
		wanted, tau = up.spindleSpeed.at, spindleTauS
	}
	if up.spindleBackwards {
		wanted = -wanted
	}
	wanted = s.overrun(wanted, up)
	if up.spindleStall {
		wanted, tau = 0, 0.02
	}
	s.rpm += (wanted - s.rpm) * (0.001 / tau)
	if wanted == 0 && math.Abs(s.rpm) < spindleSnap {
		s.rpm = 0
	}
	s.stillS += 0.001
	if s.rpm != 0 {
		s.stillS = 0
	}
}

// indexed: standing, and the drive has had the time to park at its index.
func (s *spindle) indexed() bool { return s.rpm == 0 && s.stillS >= 0.1 }
