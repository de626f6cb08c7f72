package controller

import (
	"flag"
	"fmt"
	"hash/maphash"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// The walk that tries everything but START: commands, answers, the door, hands,
// buttons and the key, a host that asks for all at once, and time, breadth first
// from everywhere where a rig may stand without START. The machine and the warden
// are the real ones; the plant is the fake's. Whatever is driven has to stand on
// the list of what may (safety.WithoutStart).

var statesEach = flag.Int("states", 120, "states walked from each beginning, without START; `make unstarted`")

// event is one thing that somebody does, or that time does.
type event struct {
	name string
	do   func(*fake)
}

// seenMs is how long each event may act: the machine has had four steps and two
// snapshots by then.
const seenMs = 40

func toggle(name string, bit uint32) event {
	return event{name, func(f *fake) { f.set(bit, f.in.Bits&bit == 0) }}
}

func commanded(c Command) event {
	return event{c.String(), func(f *fake) {
		f.next.Command, f.next.By, f.next.Ack = c, "test", true
		if c == Start {
			j := withTube()
			j.Cycle = f.m.job.Cycle + 1
			f.next.Job = &j
		}
	}}
}

func answered(name string, yes bool) event {
	return event{name, func(f *fake) { f.next.Answer = Answer{Prompt: f.out.Status.Prompt, Yes: yes} }}
}

// asking is a host that has gone mad or bad: all leases, all flags but those that
// give something up, for the arming in force.
func asking(name string, press uint8) event {
	return event{name, func(f *fake) {
		f.bend = func(r *rig.Request) {
			*r = rig.Request{Lease: 15, Press: press, ArmID: f.st.ArmID, FuelMl: 4000, OxygenMl: 9000,
				Flags: warden.ReqArm | warden.ReqCycle | warden.ReqFlame | warden.ReqOxygen | warden.ReqBurnerIn |
					warden.ReqEstimate | warden.ReqReset,
				SpindleDrpm: 2000, TravelCmm: 6000, SpeedCmms: 6000, ForceDN: 4000,
				GlassLowDC: 8000, GlassHighDC: 9500, EstDC: 8800}
			if press == warden.PressOpen {
				r.TravelCmm = 0
			}
		}
	}}
}

func passes(d time.Duration) event {
	return event{d.String(), func(f *fake) { f.run(int(d.Milliseconds()) - seenMs) }}
}

var events = []event{
	commanded(Start), commanded(Stop), commanded(Hold), commanded(Restart), commanded(Abort), commanded(Reset),
	commanded(Pause), commanded(Resume), answered("yes", true), answered("no", false),
	{"RESET", func(f *fake) { f.press(warden.InReset, 30) }},
	{"SOFT", func(f *fake) { f.press(warden.InSoft, 30) }},
	toggle("door", warden.InDoorClosed), toggle("key", warden.InSetUp), toggle("OPEN", warden.InHoldOpen),
	toggle("CLOSE", warden.InHoldClose), toggle("TURN", warden.InHoldTurn), toggle("left", warden.InTwoHandLeft),
	toggle("right", warden.InTwoHandRight), toggle("both hands", warden.InTwoHandLeft|warden.InTwoHandRight),
	asking("host asks to close", warden.PressForce), asking("host asks to open", warden.PressOpen),
	{"host is the machine", func(f *fake) { f.bend = nil }},
	passes(200 * time.Millisecond), passes(time.Second), passes(6 * time.Second),
}

// beginnings are where START does not stand.
var beginnings = []struct {
	name  string
	reach func(*testing.T) *fake
}{
	{"idle", func(t *testing.T) *fake { return reach(t, Idle) }},
	{"armed", func(t *testing.T) *fake {
		f := newFake(t, driven(t))
		f.toPhase(withTube(), "seat")
		f.run(100)
		f.answer(true)
		f.until(5, func() bool { return f.out.Status.Armed })
		return f
	}},
	{"hands at the moulds", func(t *testing.T) *fake {
		f := newFake(t, driven(t))
		f.toPhase(withTube(), "tube")
		f.until(5, func() bool { return f.out.Status.Prompt != 0 && f.st.Link == warden.LinkWaiting })
		return f
	}},
	{"paused", func(t *testing.T) *fake { return reach(t, Paused) }},
	{"held", func(t *testing.T) *fake { return reach(t, Held) }},
	{"flame parked", func(t *testing.T) *fake { return reach(t, Complete) }},
	{"flame lost", func(t *testing.T) *fake {
		f := reach(t, Running)
		f.noFlame = true
		f.until(5, func() bool { return f.st.Lock == warden.LockLockout })
		f.noFlame = false
		return f
	}},
	{"gas alarm in the approach", func(t *testing.T) *fake {
		f := newFake(t, driven(t))
		f.toPhase(job(1), "form")
		f.until(5, func() bool { return f.st.Press == warden.PressClosing && f.travel > 20 })
		f.set(warden.InGasAlarm, true)
		f.run(20)
		f.set(warden.InGasAlarm, false)
		return f
	}},
	{"aborted in contact", func(t *testing.T) *fake {
		f := newFake(t, driven(t))
		f.toPhase(job(1), "set")
		f.command(Abort)
		return f
	}},
}

// twin is the same rig and machine a second time.
func (f *fake) twin() *fake {
	g, m := *f, *f.m
	g.m = &m
	return &g
}

// state is what decides what may follow: two rigs with the same are the same to
// the walk. Times count by the bands that a rule of warden or machine, shortened
// for this walk, tells apart.
type state struct {
	Machine [30]int64
	Request rig.Request
	Mad     bool
	Warden  warden.State
	Bits    uint32
	Plant   [6]int64
}

func (f *fake) state() state {
	k := state{Request: f.req, Mad: f.bend != nil, Warden: f.st, Bits: f.in.Bits}
	k.Request.ArmID, k.Request.EstDC, k.Request.EstUncDC, k.Request.EstAgeMs = 0, 0, 0, 0
	m, is := f.m, func(on bool) int64 { return int64(sign(on)) }
	k.Machine = [...]int64{int64(m.state), int64(m.stage), int64(m.phase.index), is(m.phase.active), is(m.phase.cond),
		is(m.phase.answered), is(m.phase.settled), is(m.phase.handed), int64(m.next), is(m.arm.asking), is(m.arm.started),
		is(m.arm.lost), is(m.hold.finishing), is(m.hold.denied), is(m.hold.cooling), int64(m.hold.resumeAt),
		int64(m.hold.step), is(m.prompt.num != 0), is(m.contacted), is(m.touching), is(m.hot), is(m.fired),
		int64(m.lights), is(m.dark), is(m.parked), is(m.resetting), is(m.see.clear), is(m.waits), is(f.session != 0),
		band(m.now-m.stateAt, 1_000, 5_000, 60_000)}
	k.Plant = [...]int64{band(uint64(f.travel*10), 1, 5, 10, 200, 560, 575, 600), band(uint64(f.slideMs), 1, 400),
		band(uint64(f.rpm*10), 1, 10, 300, 500, 1_000), band(uint64(f.fanMs), 1, 200, 300), band(uint64(f.glassC), 300, 820, 930),
		band(uint64(f.lightMs), 1, 300)}
	f.coarse(&k.Warden)
	return k
}

// coarse puts the warden's times into bands.
func (f *fake) coarse(s *warden.State) {
	c := &f.cfg
	short := func(ms *uint16, edges ...uint64) { *ms = uint16(band(uint64(*ms), edges...)) }
	long := func(ms *uint32, edges ...uint64) { *ms = uint32(band(uint64(*ms), edges...)) }
	long(&s.ArmMs, 1, uint64(c.ArmMs))
	for i := range s.LeaseMs {
		short(&s.LeaseMs[i], uint64(c.LeaseMs))
	}
	for _, ms := range []*uint16{&s.LinkMs, &s.StartMs, &s.ResetMs, &s.TrialMs, &s.FlameMs, &s.DarkMs, &s.FuelOffMs,
		&s.NoFlowMs, &s.FeedMs, &s.FeedOxMs, &s.SlideMs, &s.ClearMs, &s.BlockMs, &s.NVMs, &s.SoftMs, &s.PressMs,
		&s.PullMs, &s.StallMs, &s.ForceLostMs, &s.TravelLostMs, &s.UnfeltMs, &s.StandMs, &s.FastMs, &s.ChuckMs,
		&s.HandMs, &s.StillMs, &s.Hands[0].Ms, &s.Hands[1].Ms, &s.Hands[2].Ms} {
		short(ms, 1, 200, 500, 1_000, 2_000)
	}
	for i := range s.SwitchMs {
		short(&s.SwitchMs[i], 1)
	}
	long(&s.PhaseMs, 500, 1_000, 5_000)
	long(&s.ParkMs, 1, uint64(c.ParkMs)/2)
	long(&s.SpinMs, 1_000)
	long(&s.Unburnt, 1, 60_000, 120_000)
	s.ErrorSum, s.ArmID, s.UsedArmID, s.StandCmm, s.HandFromCmm = 0, 0, 0, 0, 0
	s.EaseDN, s.Out.ForceDN, s.Out.FuelMl = s.EaseDN/100, s.Out.ForceDN/100, s.Out.FuelMl/100
}

// band is how many of the edges v has reached.
func band(v uint64, edges ...uint64) int64 {
	n := int64(0)
	for _, edge := range edges {
		if v >= edge {
			n++
		}
	}
	return n
}

// walked is what one walk saw.
type walked struct {
	states, steps int
	all           bool // nothing was left to try
	wrong         string
	by            uint32 // lines of the list that were needed
}

// node is a rig, and how it came there.
type node struct {
	f    *fake
	from int // of the nodes walked
	by   int // event
}

// unstarted walks from a rig where START does not stand.
func unstarted(from *fake, most int) walked {
	var w walked
	seed := maphash.MakeSeed()
	seen := map[uint64]bool{}
	add := func(f *fake) bool {
		k := maphash.Comparable(seed, f.state())
		fresh := !seen[k]
		seen[k] = true
		return fresh
	}
	add(from)
	nodes := []node{{from, -1, -1}}
	for at := 0; at < len(nodes); at++ {
		for by := range events {
			f := nodes[at].f.twin()
			if bad := w.try(f, &events[by]); bad != "" {
				w.wrong = bad + "\n  after: " + way(nodes, at, by)
				w.states = len(nodes)
				return w
			}
			if w.steps++; len(nodes) < most && add(f) {
				nodes = append(nodes, node{f, at, by})
			}
		}
		nodes[at].f = nil // not needed any more
	}
	w.states, w.all = len(nodes), len(nodes) < most
	return w
}

// try lets one thing happen and looks at every millisecond of it.
func (w *walked) try(f *fake, e *event) (wrong string) {
	f.each = func(was *warden.Output) {
		if wrong != "" {
			return
		}
		s := safety.Standing{Config: &f.cfg, Was: was, Tick: safety.Tick{In: &f.in, Out: &f.driven, After: &f.st}}
		left, by := s.Unlisted()
		w.by |= by
		switch {
		case f.st.Started != 0 && f.st.Wait == 0:
			wrong = "START stands although nobody pushed it"
		case left != 0:
			wrong = fmt.Sprintf("outputs %03x are on, and nothing on the list lets them: %+v, was %+v; press %d spindle %d burner %d lock %d started %d",
				left, f.driven, *was, f.st.Press, f.st.Spindle, f.st.Burner, f.st.Lock, f.st.Started)
		}
	}
	e.do(f)
	f.run(seenMs)
	f.each = nil
	return wrong
}

func way(nodes []node, at, by int) string {
	names := []string{events[by].name}
	for ; nodes[at].from >= 0; at = nodes[at].from {
		names = append(names, events[nodes[at].by].name)
	}
	slices.Reverse(names)
	return strings.Join(names, "; ")
}

// begin reaches a beginning with the times short and START released.
func begin(t *testing.T, i int) *fake {
	t.Helper()
	f := beginnings[i].reach(t)
	f.in.Bits &^= f.held
	f.held, f.heldUntil, f.log = 0, 0, nil
	f.until(1, func() bool { return f.st.Started == 0 || f.st.Wait != 0 }) // what the machine asks has arrived
	f.cfg.ArmMs, f.cfg.CreepMs, f.cfg.ParkMs = 4_000, 3_000, 20_000
	return f
}

// Without START nothing moves, heats or stays on but what stands on the list.
func TestNothingWithoutStart(t *testing.T) {
	var by uint32
	var mu sync.Mutex
	t.Run("from", func(t *testing.T) {
		for i, b := range beginnings {
			t.Run(b.name, func(t *testing.T) {
				t.Parallel()
				w := unstarted(begin(t, i), *statesEach)
				t.Logf("%d states, %d steps, nothing left %v, lines of the list %012b", w.states, w.steps, w.all, w.by)
				if w.wrong != "" {
					t.Error(w.wrong)
				}
				mu.Lock()
				defer mu.Unlock()
				by |= w.by
			})
		}
	})
	for i, line := range safety.WithoutStart {
		if by&(1<<i) == 0 {
			t.Errorf("never came about, so never tried: %s", line.What)
		}
	}
}

// goesOn is a warden whose outputs do not wait for START, although it says so.
func goesOn(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	bent := *in
	bent.Request.Flags &^= warden.ReqHands
	waits := s.Wait != 0 || in.Request.Flags&warden.ReqHands != 0 || in.Bits&warden.InDoorClosed == 0
	s.Wait = 0
	warden.Step(c, s, &bent, out)
	if waits && s.Started != 0 {
		s.Wait, s.Link = 1, warden.LinkWaiting
	}
}

// opensForTheHost lets the host open the press without START.
func opensForTheHost(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	warden.Step(c, s, in, out)
	if in.Request.Press == warden.PressOpen && in.Bits&warden.InPressOpen == 0 && s.Press == warden.PressStay {
		out.Bits = out.Bits&^warden.OutBrake | warden.OutPressOpen
		s.Out = *out
	}
}

// closesFast is hold-to-run at the speed of a stroke.
func closesFast(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	warden.Step(c, s, in, out)
	if s.Press == warden.PressHandClose {
		out.SpeedCmms = c.SpeedMaxCmms
		s.Out = *out
	}
}

// A walk that finds nothing in a broken warden proves nothing.
func TestWalkFindsBrokenWardens(t *testing.T) {
	for _, broken := range []struct {
		name, from string
		step       func(*warden.Config, *warden.State, *warden.Input, *warden.Output)
	}{
		{"does not wait", "hands at the moulds", goesOn},
		{"does not wait", "held", goesOn},
		{"opens for the host", "gas alarm in the approach", opensForTheHost},
		{"hold-to-run at full speed", "idle", closesFast},
	} {
		t.Run(broken.name, func(t *testing.T) {
			for i, b := range beginnings {
				if b.name == broken.from {
					f := begin(t, i)
					f.warden = broken.step
					w := unstarted(f, *statesEach)
					t.Log(w.wrong)
					if w.wrong == "" {
						t.Errorf("passes %d states", w.states)
					}
				}
			}
		})
	}
}
