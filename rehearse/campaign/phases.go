package campaign

import (
	"pressrig/controller"
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// Phases are the twelve that a normal cycle goes through, burner and recipe
// together.
var Phases = [...]string{"load", "check", "purge", "light", "warm", "fire", "clear", "close", "contact",
	"part", "cool", "off"}

// numPhases is their number.
const numPhases = len(Phases)

// Span is when a phase ran, in ms since the rig was switched on.
type Span struct{ From, To uint64 }

// Timeline is when each phase of an undisturbed cycle ran.
type Timeline [numPhases]Span

// phaseBegun reports whether phase number i is under way, given that the one
// before it is.
func phaseBegun(i int, s *warden.State, status *controller.Status) bool {
	kind := status.PhaseKind
	switch Phases[i] {
	case "load":
		return status.State == controller.Running
	case "check":
		return s.Burner == warden.BurnerCheck
	case "purge":
		return s.Burner == warden.BurnerPurge
	case "light":
		return s.Burner == warden.BurnerIgniter
	case "warm":
		return kind == recipes.Warm
	case "fire":
		return kind == recipes.Fire
	case "clear":
		return kind == recipes.Clear
	case "close":
		return s.Press == warden.PressClosing
	case "contact":
		return s.Press == warden.PressContact
	case "part":
		return kind == recipes.Part
	case "cool":
		return kind == recipes.SoftFlame || kind == recipes.FlameCool
	}
	return kind == recipes.Out || kind == recipes.Unload
}

// follow writes down when the phases of a running cycle begin.
type follow struct {
	line Timeline
	next int
}

func (f *follow) step(nowMs uint64, s *warden.State, status *controller.Status) {
	if f.next < numPhases && phaseBegun(f.next, s, status) {
		f.line[f.next].From = nowMs
		if f.next > 0 {
			f.line[f.next-1].To = nowMs
		}
		f.next++
	}
	over := status.State == controller.Complete && s.Burner == warden.BurnerStandby
	if f.next == numPhases && f.line[numPhases-1].To == 0 && over {
		f.line[numPhases-1].To = nowMs
	}
}

// Moments of a phase in which a fault comes.
var Moments = [...]string{"entry", "middle", "exit", "reacting", "resetting"}

// at is when a fault of that moment comes.
func (s Span) at(moment string) uint64 {
	switch moment {
	case "entry":
		return s.From
	case "exit":
		return s.To - 1
	}
	return (s.From + s.To) / 2
}
