package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"pressrig/controller"
	"pressrig/journal"
	"pressrig/panel"
	"pressrig/panel/api"
	"pressrig/proof"
	"pressrig/rig"
	"pressrig/safety"
)

// A proof is given up when nobody has looked at it for so long: while it waits,
// and when its result waits for a signature.
const (
	abandoned = 10 * time.Second
	unsigned  = 10 * time.Minute
)

// prover makes proof tests: it hands the loop's snapshots to the judge of the
// one proof under way, keeps what is due, and stores what is signed. It is the
// panel's Proofs and one of the loop's publishers.
type prover struct {
	rig     *rig.Profile
	steps   []proof.Step
	journal *journal.Journal
	desk    *desk
	now     func() time.Time

	mu     sync.Mutex // never held over a write or an order
	newest map[string]proof.Record
	began  time.Time // of the journal
	ids    uint32    // proofs of this start
	run    *proving  // nil: none under way
}

// proving is the proof under way.
type proving struct {
	id     uint32
	by     string
	step   *proof.Step
	judge  *proof.Judge
	begun  time.Time
	asked  time.Time     // newest look at it
	answer *proof.Answer // for the next moment
}

// givenUp reports whether nobody makes this proof any more.
func (r *proving) givenUp(now time.Time) bool {
	if r.judge.Progress().Result == proof.Waiting {
		return now.Sub(r.asked) >= abandoned
	}
	return now.Sub(r.asked) >= unsigned
}

func newProver(p *rig.Profile, j *journal.Journal, d *desk) (*prover, error) {
	v := &prover{rig: p, steps: proof.Steps(p), journal: j, desk: d, now: time.Now}
	var err error
	if v.newest, err = j.NewestProofs(p.Name); err != nil {
		return nil, err
	}
	v.began, err = j.Began()
	return v, err
}

// Tell hands the moment to the judge. It never waits: a moment in which
// somebody holds the lock is left out, and times are read to the worse side.
func (v *prover) Tell(_ *controller.Status, snap *rig.Snapshot) {
	if !v.mu.TryLock() {
		return
	}
	defer v.mu.Unlock()
	if v.run == nil {
		return
	}
	in := proof.Input{ElapsedMs: uint64(v.now().Sub(v.run.begun).Milliseconds()), Snap: snap, Answer: v.run.answer}
	if c := v.desk.caps.Load(); c != nil {
		in.Session = c.Session
		in.ElapsedMs *= uint64(c.Scale) // 1 on a board
	}
	v.run.answer = nil
	v.run.judge.Feed(in)
}

// Record is of no use to the prover.
func (v *prover) Record(controller.Record) {}

func (v *prover) dues() []proof.Due {
	v.mu.Lock()
	defer v.mu.Unlock()
	return proof.Dues(v.rig, v.newest, v.began, v.now())
}

// refusal says why no cycle may be armed for want of a proof, "" when none is
// wanted.
func (v *prover) refusal() string {
	for _, d := range v.dues() {
		if d.Refuses() {
			return d.Warning()
		}
	}
	return ""
}

// Warnings are what is due, overdue or failed.
func (v *prover) Warnings() []string {
	var all []string
	for _, d := range v.dues() {
		if text := d.Warning(); text != "" {
			all = append(all, text)
		}
	}
	return all
}

// List is every step and how it stands.
func (v *prover) List() (api.Proofs, error) {
	head, err := v.journal.Head()
	if err != nil {
		return api.Proofs{}, err
	}
	dues := map[string]*proof.Due{}
	for _, d := range v.dues() {
		dues[d.Function] = &d
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	notice := proof.Notice
	for _, w := range safety.Warnings(v.rig) {
		notice += "\nwarning: " + w
	}
	out := api.Proofs{Rig: v.rig.Name, Notice: notice, Ledger: head.Told()}
	for i := range v.steps {
		s := &v.steps[i]
		var last *proof.Record
		if r, ok := v.newest[s.Function]; ok {
			last = &r
		}
		out.Steps = append(out.Steps, api.ProofStepOf(s, dues[s.Function], last))
	}
	return out, nil
}

// Now is the proof under way.
func (v *prover) Now() api.ProofProgress {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.run == nil {
		return api.ProofProgress{}
	}
	v.run.asked = v.now()
	p := v.run.judge.Progress()
	return api.ProofProgressOf(v.run.id, v.run.step, v.run.by, &p)
}

// Begin begins a proof, unless another is under way or a cycle runs.
func (v *prover) Begin(b api.ProofBegin) (api.ProofBegun, error) {
	s, ok := proof.StepNamed(v.steps, b.Function)
	switch {
	case !ok:
		return api.ProofBegun{}, &api.Error{Code: api.NotFound, Message: "no protective function of that name",
			Hint: "pressrig prove --list shows them"}
	case !s.Fitted():
		return api.ProofBegun{}, api.Refusef("%s cannot be proven on this rig: it has not %s", s.Function, s.Lacks)
	case v.desk.busy():
		return api.ProofBegun{}, api.Refusef("a cycle is under way; a proof begins between two cycles")
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	if r := v.run; r != nil && !r.givenUp(v.now()) {
		return api.ProofBegun{}, api.Refusef("%s is proving %s; one proof at a time", r.by, r.step.Function)
	}
	v.ids++
	now := v.now()
	v.run = &proving{id: v.ids, by: b.By, step: s, judge: proof.NewJudge(v.rig, s), begun: now, asked: now}
	return api.ProofBegun{Proof: v.ids}, nil
}

// under is the proof of that number, if it is the one under way. The lock is
// held.
func (v *prover) under(id uint32) (*proving, error) {
	if v.run == nil || v.run.id != id {
		return nil, api.Refusef("that proof is not under way any more; begin it again")
	}
	return v.run, nil
}

// Arm arms the recipe that the judge wants now. It does so also when proofs
// are overdue or failed: else nothing could be proven.
func (v *prover) Arm(ctx context.Context, id api.ProofID, who panel.Who) (api.Started, error) {
	recipe, err := v.wanted(id.Proof)
	if err != nil {
		return api.Started{}, err
	}
	number, err := v.desk.arm(ctx, panel.Order{Recipe: recipe, Who: who, Last: true})
	if err != nil {
		return api.Started{}, err
	}
	return api.Started{Cycle: number, Recipe: recipe}, nil
}

func (v *prover) wanted(id uint32) (string, error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	r, err := v.under(id)
	if err != nil {
		return "", err
	}
	p := r.judge.Progress()
	if p.Recipe == "" {
		return "", api.Refusef("this proof wants no flame now")
	}
	return p.Recipe, nil
}

// Answer answers the question of the stage that it names.
func (v *prover) Answer(a api.ProofAnswer) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	r, err := v.under(a.Proof)
	if err != nil {
		return err
	}
	if p := r.judge.Progress(); p.Ask == proof.AskNothing || p.Stage != a.Stage {
		return api.Refusef("that question is not open")
	}
	r.answer = &proof.Answer{Yes: a.Yes, Value: math.NaN()}
	if a.Value != nil {
		r.answer.Value = *a.Value
	}
	return nil
}

// Cancel gives the proof up; nothing is stored.
func (v *prover) Cancel(id api.ProofID) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	if _, err := v.under(id.Proof); err != nil {
		return err
	}
	v.run = nil
	return nil
}

// Sign stores what the judge found. The proof stays under way when the journal
// does not take it, so that nothing measured is lost.
func (v *prover) Sign(s api.ProofSign, who panel.Who) (api.ProofRecord, error) {
	record, err := v.record(s, who)
	if err != nil {
		return api.ProofRecord{}, err
	}
	if record.Number, err = v.journal.AppendProof(record, v.rig.Text); err != nil {
		if errors.Is(err, journal.ErrNotWritable) {
			return api.ProofRecord{}, api.Refusef("the journal cannot be written, so the proof is not stored; " +
				"free the disk, then sign again")
		}
		return api.ProofRecord{}, err
	}
	v.mu.Lock()
	v.newest[record.Function] = record
	if v.run != nil && v.run.id == s.Proof {
		v.run = nil
	}
	v.mu.Unlock()
	out := api.ProofRecordOf(&record)
	head, err := v.journal.Head()
	if err != nil {
		return out, err
	}
	ledger := head.Told()
	out.Ledger = &ledger
	return out, nil
}

func (v *prover) record(s api.ProofSign, who panel.Who) (proof.Record, error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	r, err := v.under(s.Proof)
	if err != nil {
		return proof.Record{}, err
	}
	p := r.judge.Progress()
	if p.Result != proof.Passed && p.Result != proof.Failed {
		return proof.Record{}, api.Refusef("%s is %s; only a proof that passed or failed is signed",
			r.step.Function, p.Result)
	}
	return proof.Record{Function: r.step.Function, Rig: v.rig.Name, At: v.now(), By: who.By, User: who.User, Result: p.Result,
		Value: p.Value, Unit: p.Unit, Limit: r.step.Limit, ByEye: p.ByEye, Why: p.Why, Note: s.Note,
		ProfileHash: v.rig.Hash}, nil
}

// openProver makes the prover and lets the desk ask it before it arms.
func (s *service) openProver(j *journal.Journal) (err error) {
	if s.prover, err = newProver(s.rig, j, s.desk); err != nil {
		return fmt.Errorf("proof tests: %w", err)
	}
	s.desk.refusal = s.prover.refusal
	for _, text := range s.prover.Warnings() {
		s.log.Warn().Msg(text)
	}
	return nil
}
