package journal

import (
	"crypto/sha256"
	"fmt"
	"time"

	"pressrig/rig"
)

// maxPrepared is how many cycles may be prepared and not begun; the oldest are
// forgotten. One is usual: more are starts that the supervisor refused.
const maxPrepared = 16

// Limits of what a cycle freezes. A recipe or profile is a page of text.
const (
	maxDocument = 1 << 20
	maxPhases   = 1024
)

// CycleInfo is all that is frozen when a cycle starts: enough to replay it.
type CycleInfo struct {
	Number  uint32 // given by Prepare; not 0: of a refused start, to be used again
	Run     uint32
	Piece   uint16
	Dummy   bool
	Last    bool
	Guarded bool      // false: assisted mode, no warden stood behind it
	By      string    // as typed
	User    string    // as the kernel knows it
	Started time.Time // wall clock; zero: when the start record came

	Recipe     string // name
	RecipeText []byte
	RecipeHash [32]byte // SHA-256 of RecipeText
	Phases     []PhaseInfo

	Rig         string
	ProfileText []byte
	ProfileHash [32]byte // SHA-256 of ProfileText

	Capabilities rig.Capabilities // of the microcontroller, firmware included
}

// PhaseInfo names a phase of the recipe, in the recipe's order.
type PhaseInfo struct {
	Name string
	Kind string
}

// Prepare reserves the next cycle number and keeps what the cycle will freeze
// until its start record comes. It waits for the disk: call it before Start,
// never from the loop. It fails with ErrNotWritable when the cycle must not
// start, and when a hash is not the hash of its text.
//
// A number that an earlier Prepare gave, and whose start was refused, may be
// given back in info: it is kept, with what this call freezes.
func (j *Journal) Prepare(info CycleInfo) (uint32, error) {
	if err := info.check(); err != nil {
		return 0, fmt.Errorf("prepare cycle: %w", err)
	}
	err := j.ask(func(w *writer) (err error) {
		switch {
		case info.Number == 0:
			info.Number, err = w.reserve(cycleNumber)
		case info.Number <= j.started.Load():
			err = fmt.Errorf("number %d is a cycle's that has started", info.Number)
		default:
			err = w.ready()
		}
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("prepare cycle: %w", err)
	}
	j.queue.prepare(info)
	return info.Number, nil
}

// NextRun reserves the next run number.
func (j *Journal) NextRun() (uint32, error) {
	var n uint32
	err := j.ask(func(w *writer) (err error) {
		n, err = w.reserve(runNumber)
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("next run: %w", err)
	}
	return n, nil
}

func (info *CycleInfo) check() error {
	for _, d := range []struct {
		what string
		text []byte
		hash [32]byte
	}{
		{"recipe", info.RecipeText, info.RecipeHash},
		{"profile", info.ProfileText, info.ProfileHash},
	} {
		if len(d.text) > maxDocument {
			return fmt.Errorf("%s text has %d bytes; at most %d are possible",
				d.what, len(d.text), maxDocument)
		}
		if sum := sha256.Sum256(d.text); sum != d.hash {
			return fmt.Errorf("%s hash is %x; its text has %x", d.what, d.hash, sum)
		}
	}
	if len(info.Phases) > maxPhases {
		return fmt.Errorf("%d phases; at most %d are possible", len(info.Phases), maxPhases)
	}
	return nil
}
