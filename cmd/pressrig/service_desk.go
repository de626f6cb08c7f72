package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"pressrig/controller"
	"pressrig/controller/loop"
	"pressrig/drivers/wire"
	"pressrig/glass"
	"pressrig/journal"
	"pressrig/panel"
	"pressrig/panel/api"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/trials"
)

// desk takes what people ask and hands it to the loop: it checks recipes,
// reserves cycle numbers in the journal, and counts pieces and runs. It is the
// panel's Daemon and one of the loop's publishers.
type desk struct {
	rig     *rig.Profile
	journal *journal.Journal
	shelf   *glass.Shelf // read when the daemon starts
	loop    *loop.Loop
	refusal func() string // why no cycle may be armed for want of a proof, "" for nothing
	config  uint32        // hash of the warden's configuration that the profile asks for
	// otherLimits gets a token when a rig was refused for its limits; one waits.
	otherLimits chan struct{}

	// What the loop told last, without a lock so that it never waits.
	state atomic.Uint32
	lit   atomic.Bool
	caps  atomic.Pointer[rig.Capabilities]

	pressing sync.Mutex // one press at a time: run and piece follow from the one before
	run      uint32
	piece    uint16
	spare    numbers // reserved for a start that was refused
}

// numbers are reserved in the journal, 0 where none is. A person who tries
// again until the moulds are warm finds the next cycle to be the next number.
type numbers struct{ cycle, run uint32 }

func newDesk(p *rig.Profile, j *journal.Journal, shelf *glass.Shelf) *desk {
	d := &desk{rig: p, journal: j, shelf: shelf, refusal: func() string { return "" }, otherLimits: make(chan struct{}, 1)}
	if p.Board {
		c := p.WardenConfig()
		d.config = wire.BlockHash(&c, &p.Signals)
	}
	d.state.Store(uint32(controller.Idle))
	return d
}

// Tell keeps what the desk needs to know between two orders.
func (d *desk) Tell(s *controller.Status, snap *rig.Snapshot) {
	d.state.Store(uint32(s.State))
	if snap != nil {
		d.lit.Store(snap.Burner == warden.BurnerRun)
	}
}

// Record is of no use to the desk.
func (d *desk) Record(controller.Record) {}

// busy reports whether a cycle is under way.
func (d *desk) busy() bool {
	switch controller.State(d.state.Load()) {
	case controller.Idle, controller.Complete, controller.Stopped, controller.Aborted:
		return false
	}
	return true
}

// accept looks at a rig that says hello: only the one of the profile, with the
// limits of the profile and a program that is known, gets requests.
func (d *desk) accept(c *rig.Capabilities) error {
	if c.Device != d.rig.Device {
		return fmt.Errorf("device id is %d; the profile's is %d", c.Device, d.rig.Device)
	}
	if c.ConfigHash != d.config {
		select {
		case d.otherLimits <- struct{}{}: // whoever reads them tells which
		default:
		}
		return fmt.Errorf("its limits or scaling (hash %08X) are not those of the profile (hash %08X); write the "+
			"profile's to the board with pressrig flash, or correct the profile", c.ConfigHash, d.config)
	}
	if err := refuseBuild(c.Firmware, d.rig); err != nil {
		return err
	}
	kept := *c
	d.caps.Store(&kept)
	return nil
}

// Press checks the recipe against the rig, prepares the cycle in the journal
// and hands it to the loop. The START button at the rig starts it.
func (d *desk) Press(ctx context.Context, o panel.Order) (uint32, error) {
	if why := d.refusal(); why != "" {
		return 0, api.Refusef("%s", why)
	}
	return d.arm(ctx, o)
}

// arm is Press without asking what is due.
func (d *desk) arm(ctx context.Context, o panel.Order) (uint32, error) {
	d.pressing.Lock()
	defer d.pressing.Unlock()
	if d.busy() {
		return 0, api.Refusef("a cycle is under way; one at a time")
	}
	r, err := d.recipe(o)
	if err != nil {
		return 0, err
	}
	job, err := d.prepare(r, o)
	if err != nil {
		return 0, err
	}
	if err := d.do(ctx, loop.Order{Command: controller.Start, Job: job, By: o.By, User: o.User}); err != nil {
		return 0, err
	}
	d.run, d.piece, d.spare = job.Run, job.Piece, numbers{}
	return job.Cycle, nil
}

// prepare reserves the cycle's number and freezes what it starts from.
func (d *desk) prepare(r *recipes.Recipe, o panel.Order) (*controller.Job, error) {
	job := &controller.Job{Run: d.run, Piece: d.piece + 1, Dummy: o.Dummy, Last: o.Last,
		By: o.By, User: o.User, Recipe: r}
	if d.run == 0 || !d.lit.Load() { // a run is the cycles of one light-up
		if d.spare.run == 0 {
			run, err := d.journal.NextRun()
			if err != nil {
				return nil, notWritable(err)
			}
			d.spare.run = run
		}
		job.Run, job.Piece = d.spare.run, 1
	}
	number, err := d.journal.Prepare(d.freeze(job))
	if err != nil {
		return nil, notWritable(err)
	}
	job.Cycle, d.spare.cycle = number, number
	return job, nil
}

// freeze is what the journal keeps of a job: enough to replay it.
func (d *desk) freeze(job *controller.Job) journal.CycleInfo {
	r := job.Recipe
	info := journal.CycleInfo{Number: d.spare.cycle, Run: job.Run, Piece: job.Piece,
		Dummy: job.Dummy, Last: job.Last, Guarded: d.rig.Board && !r.Assisted, By: job.By, User: job.User,
		Recipe: r.Name, RecipeText: r.Text, RecipeHash: r.Hash,
		Rig: d.rig.Name, ProfileText: d.rig.Text, ProfileHash: d.rig.Hash}
	for i := range r.Phases {
		info.Phases = append(info.Phases,
			journal.PhaseInfo{Name: r.Phases[i].Name, Kind: string(r.Phases[i].Kind)})
	}
	if c := d.caps.Load(); c != nil {
		info.Capabilities = *c
	}
	return info
}

func notWritable(err error) error {
	if errors.Is(err, journal.ErrNotWritable) {
		return api.Refusef("the journal cannot be written, so no cycle starts; free the disk first")
	}
	return err
}

// Command hands a command to the loop.
func (d *desk) Command(ctx context.Context, c controller.Command, who panel.Who) error {
	return d.do(ctx, loop.Order{Command: c, By: who.By, User: who.User})
}

// Answer hands the answer to a prompt to the loop.
func (d *desk) Answer(ctx context.Context, prompt uint16, yes bool, who panel.Who) error {
	return d.do(ctx, loop.Order{Answer: controller.Answer{Prompt: prompt, Yes: yes}, By: who.By, User: who.User})
}

// Ack hands an acknowledgement to the loop.
func (d *desk) Ack(ctx context.Context, who panel.Who) error {
	return d.do(ctx, loop.Order{Ack: true, By: who.By, User: who.User})
}

func (d *desk) do(ctx context.Context, o loop.Order) error {
	reply, err := d.loop.Do(ctx, o)
	switch {
	case errors.Is(err, loop.ErrFull):
		return &api.Error{Code: api.Busy, Message: err.Error()}
	case err != nil:
		return err
	case !reply.Taken:
		return api.Refusef("%s", reply.Reason)
	}
	return nil
}

// records is the journal as the panel reads it.
type records struct{ j *journal.Journal }

func (r records) Cycles(_ context.Context, before uint32, limit int) ([]trials.Cycle, error) {
	return r.j.Cycles(journal.Filter{Before: before, Limit: limit})
}

func (r records) Cycle(_ context.Context, number uint32) (trials.Cycle, error) {
	c, err := r.j.Cycle(number)
	return c, missing(err, number)
}

func (r records) Trace(_ context.Context, number uint32) (*trials.Trace, error) {
	t, err := r.j.Trace(number)
	return t, missing(err, number)
}

func missing(err error, number uint32) error {
	if errors.Is(err, journal.ErrNoCycle) {
		return api.ErrNoCycle(number)
	}
	return err
}
