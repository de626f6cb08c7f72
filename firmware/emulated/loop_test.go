//go:build avr

package emulated_test

import (
	"testing"

	"pressrig/controller"
	"pressrig/firmware/emulated"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// loop is the whole system in virtual time: supervisor, line, the image in the
// emulator, and the simulated plant with its faults and people. Every
// millisecond of the image is held to the warden in Go and to the invariants.
type loop struct {
	*rehearse.Rehearsal
	t       testing.TB
	image   *emulated.Image
	board   *emulated.Board
	profile *rig.Profile
	recipe  *recipes.Recipe
	config  warden.Config

	state  warden.State // of the warden in Go, stepped with the image's inputs
	watch  safety.Watch
	clock  uint32
	failed bool
	// mayForget: a boot may forget a lockout that memory has not taken.
	mayForget bool
	// overloaded: more edges than the program has to count take it past its time.
	overloaded bool
	boots      int
	newest     emulated.Tick
	each       func(*emulated.Tick) // after each tick of the image
}

const (
	tickMost  = 10000 // cycles of a millisecond() of 16,000; the rows that look at what moves took it past half
	stackLeft = 256   // bytes between variables and the lowest stack pointer
)

// energising are the outputs that may hurt.
const energising = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutPressClose |
	warden.OutBurnerIn

// profileAndRecipe reads a stored recipe on the profile that it is written for.
func profileAndRecipe(t testing.TB, name string) (*rig.Profile, *recipes.Recipe) {
	t.Helper()
	sample, err := recipes.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin(sample.For)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse(name+".yaml", sample.Text, p)
	if err != nil {
		t.Fatal(err)
	}
	return p, r
}

// bareLoop is a board with its power on, alone.
func bareLoop(t testing.TB, recipe string) *loop {
	t.Helper()
	p, r := profileAndRecipe(t, recipe)
	l := &loop{t: t, image: image(t, p), profile: p, recipe: r, config: p.WardenConfig()}
	l.watch.Config = l.config
	var err error
	l.board, err = emulated.Start(emulated.Options{Program: emulator(t), Image: l.image, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.end)
	l.board.Tick = l.tick
	return l
}

// newLoop switches a rig on, and connects.
func newLoop(t testing.TB, recipe string) *loop {
	t.Helper()
	l := bareLoop(t, recipe)
	p, r := l.profile, l.recipe
	var err error
	l.Rehearsal, err = rehearse.New(rehearse.Options{Profile: p, Seed: 3, Answers: true, NoTrace: true, Board: l.board})
	if err != nil {
		t.Fatal(err)
	}
	l.Steps = func(_ *controller.Input, out *controller.Output) { l.ByHand(p, r, out) }
	if !l.Run(3000, func() bool { return l.Snap.StampMs != 0 }) {
		t.Fatalf("no snapshot of the image within 3 s: %+v; %v", l.board.Figures, l.board.Err())
	}
	return l
}

// tick compares one millisecond of the image with the specification.
func (l *loop) tick(k *emulated.Tick) {
	boot := k.ClockMs <= l.clock || l.boots == 0
	if boot {
		l.boots++
		warden.Init(&l.state, k.In.NV)
		if l.mayForget {
			l.watch = safety.Watch{Config: l.config}
		}
	}
	l.clock = k.ClockMs
	var out warden.Output
	warden.Step(&l.config, &l.state, &k.In, &out)
	if (out != k.Out || l.state != k.State) && !l.failed {
		l.failed = true
		l.t.Errorf("ms %d of boot %d: the image is not the warden:\nin %+v\nimage %+v\nGo    %+v\nimage %+v\nGo    %+v",
			k.ClockMs, l.boots, k.In, k.Out, out, k.State, l.state)
	}
	if b := l.watch.Step(&safety.Tick{In: &k.In, Out: &k.Out, After: &k.State, Boot: boot}); b.Number != 0 && !l.failed {
		l.failed = true
		l.t.Errorf("ms %d of boot %d: invariant %d: %s", k.ClockMs, l.boots, b.Number, b.What)
	}
	l.newest = *k
	if l.each != nil {
		l.each(k)
	}
}

// end checks what every test asks of the image.
func (l *loop) end() {
	f := l.board.Figures
	if !l.overloaded && f.Ticks > 0 && (f.Longest > tickMost || f.Longest < 500) {
		l.t.Errorf("the longest millisecond() took %d cycles; %d at most", f.Longest, tickMost)
	}
	if room := l.image.StackRoom(f.LowestStack); f.Ticks > 0 && room < stackLeft {
		l.t.Errorf("%d bytes between variables and the lowest stack pointer; %d at least", room, stackLeft)
	}
	if f.EarlyWrites > 0 {
		l.t.Errorf("%d EEPROM writes were begun while another was under way", f.EarlyWrites)
	}
	if err := l.board.Close(); err != nil {
		l.t.Error(err)
	}
	if l.Rehearsal != nil && l.Rig.Truth().WorstMs > 4000 { // SV-023
		l.t.Errorf("%d ms of unburnt fuel in 30 s; 4,000", l.Rig.Truth().WorstMs)
	}
	worst.Lock()
	defer worst.Unlock()
	worst.Ms, worst.Ticks = worst.Ms+f.Ms, worst.Ticks+f.Ticks
	if !l.overloaded {
		worst.Longest = max(worst.Longest, f.Longest)
	}
	if room := l.image.StackRoom(f.LowestStack); worst.room == 0 || room < worst.room {
		worst.LowestStack, worst.room = f.LowestStack, room
	}
	worst.Resets += f.Resets
	worst.Overruns += f.Overruns
}

// starts gives the recipe to the supervisor; the simulated operator pushes START.
func (l *loop) starts(cycle uint32) {
	l.Start(controller.Job{Cycle: cycle, Run: 1, Piece: 1, Last: true, By: "test", Recipe: l.recipe})
}

// until lets at most mostMs pass, until done holds.
func (l *loop) until(what string, mostMs int, done func() bool) {
	l.t.Helper()
	if !l.Run(mostMs, done) {
		l.t.Fatalf("not within %d ms: %s; status %+v, tick %+v; %v", mostMs, what, l.Out.Status, l.newest, l.board.Err())
	}
}

// fires starts a cycle and waits for the sharp flame at the glass.
func (l *loop) fires() {
	l.t.Helper()
	l.starts(1)
	l.until("the glass is fired", 200_000, func() bool {
		return l.Out.Status.PhaseKind == recipes.Fire && l.newest.State.Burner == warden.BurnerRun &&
			l.Rig.Truth().Flame && l.newest.Out.Bits&warden.OutOxygen != 0
	})
	l.ms(500)
}

// ms lets n milliseconds pass.
func (l *loop) ms(n int) { l.Run(n, func() bool { return false }) }

// off is how many milliseconds pass until none of the outputs is driven any
// more, at the pins.
func (l *loop) off(outputs uint16, most int) int {
	l.t.Helper()
	n := 0
	if !l.Run(most, func() bool { n++; return l.Rig.Truth().Out&outputs == 0 }) {
		l.t.Fatalf("outputs %#x, after %d ms still driven", l.Rig.Truth().Out, most)
	}
	return n - 1
}
