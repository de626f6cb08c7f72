package api

import (
	"encoding/hex"
	"math"
	"time"

	"pressrig/proof"
	"pressrig/trials"
)

// Paths of the proof tests. Only one proof is made at a time.
const (
	PathProofs      = "/v1/proofs"        // GET: Proofs
	PathProofNow    = "/v1/proofs/now"    // GET: ProofProgress
	PathProofBegin  = "/v1/proofs/begin"  // POST ProofBegin: ProofBegun
	PathProofArm    = "/v1/proofs/arm"    // POST ProofID: Started; START at the rig starts
	PathProofAnswer = "/v1/proofs/answer" // POST ProofAnswer: Done
	PathProofCancel = "/v1/proofs/cancel" // POST ProofID: Done; nothing is stored
	PathProofSign   = "/v1/proofs/sign"   // POST ProofSign: ProofRecord
)

// MaxNote bounds the note of a proof, in bytes: a line or two.
const MaxNote = 400

// Proofs is every proof step of the rig and how it stands.
type Proofs struct {
	Rig    string        `json:"rig"`
	Notice string        `json:"notice"`
	Steps  []ProofStep   `json:"steps"`
	Ledger trials.Ledger `json:"ledger"` // of the journal now
}

// ProofStep is the proof of one protective function.
type ProofStep struct {
	Function string       `json:"function"`
	Title    string       `json:"title"`
	Lacks    string       `json:"lacks,omitempty"` // why it cannot be made on this rig
	Cautions []string     `json:"cautions"`
	Do       []string     `json:"do"`
	See      string       `json:"see"`
	After    string       `json:"after"`
	Limit    string       `json:"limit,omitempty"`
	UsualH   float64      `json:"usual_interval_h"`
	UsualWhy string       `json:"usual_interval_source"`
	EveryH   float64      `json:"interval_h,omitempty"` // of the profile; absent: not asked for
	State    string       `json:"state,omitempty"`      // as proof.DueState; absent: not asked for
	Due      *time.Time   `json:"due,omitempty"`
	Warning  string       `json:"warning,omitempty"`
	Last     *ProofRecord `json:"last,omitempty"`
}

// ProofRecord is one signed proof.
type ProofRecord struct {
	Number   uint32    `json:"number"`
	Function string    `json:"function"`
	Rig      string    `json:"rig"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`                // as typed
	User     string    `json:"by_user,omitempty"` // as the kernel knew it
	Result   string    `json:"result"`            // passed | failed
	Value    *float64  `json:"value"`
	Unit     string    `json:"unit,omitempty"`
	Limit    string    `json:"limit,omitempty"`
	ByEye    bool      `json:"by_eye,omitempty"`
	Why      string    `json:"why,omitempty"`
	Note     string    `json:"note,omitempty"`
	Profile  string    `json:"profile_sha256"`
	// Ledger is of the journal when the proof had been stored; with its signing.
	Ledger *trials.Ledger `json:"ledger,omitempty"`
}

// ProofProgress is what the proof under way waits for, or what it found.
type ProofProgress struct {
	Proof    uint32   `json:"proof"` // its number of this daemon's start, 0 for none under way
	Function string   `json:"function,omitempty"`
	By       string   `json:"by,omitempty"`
	Result   string   `json:"result,omitempty"` // waiting | passed | failed | not done
	Stage    int      `json:"stage"`
	Stages   int      `json:"stages"`
	Act      string   `json:"act,omitempty"`    // what the person does, as proof.Act
	Awaits   string   `json:"awaits,omitempty"` // the same in words
	Ask      string   `json:"ask,omitempty"`    // "" | yes or no | yes or no, and the reading
	Recipe   string   `json:"recipe,omitempty"` // to be armed with PathProofArm if no cycle runs
	Live     string   `json:"live,omitempty"`
	LeftS    float64  `json:"left_s"` // until it is too late
	Why      string   `json:"why,omitempty"`
	Value    *float64 `json:"value"`
	Unit     string   `json:"unit,omitempty"`
	Limit    string   `json:"limit,omitempty"`
	ByEye    bool     `json:"by_eye,omitempty"`
}

// ProofBegin begins the proof of one function.
type ProofBegin struct {
	Function string `json:"function"`
	By       string `json:"by"`
}

// ProofBegun is the answer to a ProofBegin.
type ProofBegun struct {
	Proof uint32 `json:"proof"`
}

// ProofID names a proof under way.
type ProofID struct {
	Proof uint32 `json:"proof"`
	By    string `json:"by"`
}

// ProofAnswer answers the question of a stage.
type ProofAnswer struct {
	Proof uint32   `json:"proof"`
	Stage int      `json:"stage"`
	Yes   bool     `json:"yes"`
	Value *float64 `json:"value,omitempty"` // reading, where one is asked for
	By    string   `json:"by"`
}

// ProofSign stores what the proof found, under the name of who made it.
type ProofSign struct {
	Proof uint32 `json:"proof"`
	By    string `json:"by"`
	Note  string `json:"note,omitempty"`
}

// Valid checks the function's name and who proves it.
func (b *ProofBegin) Valid() error {
	if b.Function == "" {
		return wrong("function is missing; GET %s lists them", PathProofs)
	}
	if err := validName("function", b.Function, MaxName, false); err != nil {
		return err
	}
	return validName("by", b.By, MaxBy, false)
}

// Valid checks that a proof is named, and by whom.
func (i *ProofID) Valid() error {
	if i.Proof == 0 {
		return wrong("proof is missing; it is the number that %s gave", PathProofBegin)
	}
	return validName("by", i.By, MaxBy, false)
}

// Valid checks that the answer names its question; a reading is a finite
// number, which JSON has no other of.
func (a *ProofAnswer) Valid() error {
	if a.Stage < 0 {
		return wrong("stage is negative; it is the number in %s", PathProofNow)
	}
	return (&ProofID{a.Proof, a.By}).Valid()
}

// Valid checks who signs, and the note.
func (s *ProofSign) Valid() error {
	if err := validName("note", s.Note, MaxNote, true); err != nil {
		return err
	}
	return (&ProofID{s.Proof, s.By}).Valid()
}

// ProofRecordOf puts a record into the words of the API.
func ProofRecordOf(r *proof.Record) ProofRecord {
	return ProofRecord{r.Number, r.Function, r.Rig, r.At, r.By, r.User, string(r.Result), number(r.Value), r.Unit, r.Limit,
		r.ByEye, r.Why, r.Note, hex.EncodeToString(r.ProfileHash[:]), nil}
}

// number is v, or nil where it is none.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// ProofStepOf puts a step into the words of the API; due is nil where the
// profile does not ask for it.
func ProofStepOf(s *proof.Step, due *proof.Due, last *proof.Record) ProofStep {
	out := ProofStep{Function: s.Function, Title: s.Title, Lacks: s.Lacks, Cautions: s.Cautions, Do: s.Do,
		See: s.See, After: s.After, Limit: s.Limit, UsualH: s.Every.Hours(), UsualWhy: s.EveryWhy}
	if last != nil {
		r := ProofRecordOf(last)
		out.Last = &r
	}
	if due == nil {
		return out
	}
	out.EveryH, out.State, out.Warning = due.Every.Hours(), string(due.State), due.Warning()
	if !due.At.IsZero() {
		out.Due = &due.At
	}
	return out
}

// ProofProgressOf puts the progress of a step into the words of the API.
func ProofProgressOf(id uint32, s *proof.Step, by string, p *proof.Progress) ProofProgress {
	return ProofProgress{Proof: id, Function: s.Function, By: by, Result: string(p.Result), Stage: p.Stage,
		Stages: p.Stages, Act: string(p.Act), Awaits: p.Awaits, Ask: string(p.Ask), Recipe: p.Recipe, Live: p.Live,
		LeftS: seconds(p.LeftMs), Why: p.Why, Value: number(p.Value), Unit: p.Unit, Limit: s.Limit, ByEye: p.ByEye}
}
