package safety

import "pressrig/safety/warden"

// Limits of the second opinion.
const (
	// SecondOpinionMs: what a sound warden may show for its rule's own time, the
	// supervisor bears that much longer: two lost snapshots, a line that holds
	// frames back, a filter in front of an input.
	SecondOpinionMs = 300
	// snapshotMostMs: so much of the time between two snapshots counts as seen,
	// twice the slowest rate; what lies in a longer gap nobody knows.
	snapshotMostMs = 40
	// gapMs: a purge that ran in a gap longer than this is believed.
	gapMs = 100
	// unknownMs stands for a time that began before anybody looked.
	unknownMs uint32 = 1 << 30
)

// opinion judges snapshots by the table of contradictions and keeps what they need
// from one snapshot to the next, by the host's clock.
type opinion struct {
	looked   bool
	atMs     uint64
	stampMs  uint32
	burner   uint8
	aired    bool // extraction proven
	litOnce  bool
	purgedMs uint32
	echo     uint16
	taken    bool
	held     [len(Contradictions)]bool
	heldMs   [len(Contradictions)]uint32
	seen     Seen  // kept here so that a snapshot allocates nothing
	found    uint8 // number of the contradiction in the newest snapshot, 0 none
}

// step looks at a snapshot.
func (o *opinion) step(v *SupervisorView) {
	if v.Config == nil || v.Snap == nil {
		return
	}
	dt := o.time(v)
	o.seen = o.seenIn(v)
	o.found = 0
	for i := range Contradictions {
		k := &Contradictions[i]
		holds := k.Holds(&o.seen)
		switch {
		case !holds:
			o.heldMs[i] = 0
		case o.held[i]:
			o.heldMs[i] += min(dt, snapshotMostMs)
		}
		o.held[i] = holds
		if o.found == 0 && o.heldMs[i] > k.Longest(v.Config)+SecondOpinionMs {
			o.found = k.Number
		}
	}
}

// time keeps the opinion's own timers and gives the time since the snapshot before.
func (o *opinion) time(v *SupervisorView) (dt uint32) {
	snap := v.Snap
	aired := snap.Has(warden.InExtraction)
	if o.looked {
		dt = uint32(min(v.ElapsedMs-o.atMs, uint64(unknownMs)))
		o.purge(snap.Burner, aired, max(dt, min(snap.StampMs-o.stampMs, unknownMs)))
	} else if snap.Burner >= warden.BurnerPurge {
		o.purgedMs = unknownMs // it began before
	}
	fuel := snap.Out&warden.OutFuel != 0
	before := !o.looked && snap.Burner > warden.BurnerTrial
	o.litOnce = fuel && (o.litOnce || before || snap.Has(warden.InFlame))
	o.looked, o.atMs, o.stampMs, o.burner, o.aired = true, v.ElapsedMs, snap.StampMs, snap.Burner, aired
	o.taken, o.echo = snap.EchoSeq != o.echo, snap.EchoSeq
	return dt
}

// purge counts the purge of this light-up, rather too long than too short.
func (o *opinion) purge(burner uint8, aired bool, dt uint32) {
	purging := (burner == warden.BurnerPurge || o.burner == warden.BurnerPurge) && (aired || o.aired)
	switch {
	case burner < warden.BurnerPurge:
		o.purgedMs = 0
	case purging || dt > gapMs:
		o.purgedMs = min(o.purgedMs+dt, unknownMs)
	}
}

// seenIn is the snapshot as the table of contradictions looks at it. Of two hands it
// knows only that both are there.
func (o *opinion) seenIn(v *SupervisorView) Seen {
	s := v.Snap
	seen := Seen{Config: v.Config, In: s.In, Analog: s.Analog, AnalogOK: s.AnalogOK & v.Config.FittedAnalog,
		Out: warden.Output{Bits: s.Out, FuelMl: s.FuelMl, OxygenMl: s.OxygenMl, SpindleDrpm: s.SpindleDrpm,
			SpeedCmms: s.SpeedCmms, ForceDN: s.ForceDN, TravelCmm: s.TravelCmm},
		Burner: s.Burner, Press: s.Press, Spindle: s.Spindle, Link: s.Link, Lock: s.Lock, First: s.First,
		Trips: s.Trips, Present: s.Present, Calls: strongestTyped(s.Trips | s.Present),
		Started: s.Link == warden.LinkStarted || s.Link == warden.LinkWaiting, Armed: s.Link == warden.LinkArmed,
		Spent: s.Unburnt >= warden.UnburntLimit(v.Config), Asked: asked(&v.Asked, v.Asked.Lease),
		Taken: o.taken, LitOnce: o.litOnce, Purged: o.purgedMs+SecondOpinionMs+oneTick >= v.Config.PurgeMs}
	for i, cs := range s.LeaseCs {
		seen.Dead[i] = 10*uint32(cs) > lease(v.Config)
	}
	left := seen.made(warden.InTwoHandLeft)
	seen.Hands = [warden.NumHands]bool{
		warden.HandsStroke: left && seen.made(warden.InTwoHandRight),
		warden.HandsClose:  left && seen.made(warden.InHoldClose),
		warden.HandsTurn:   left && seen.made(warden.InHoldTurn)}
	return seen
}

// implausible: the board says what cannot be so.
func (s *Supervisor) implausible(*SupervisorView) bool { return s.second.found != 0 }
