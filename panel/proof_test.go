package panel

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"pressrig/panel/api"
	"pressrig/proof"
)

// fakeProofs notes what it was asked.
type fakeProofs struct {
	asked []any
	who   Who // that asked last to arm or sign
}

func (f *fakeProofs) List() (api.Proofs, error) {
	last := proof.Record{Number: 3, Function: "estop", Rig: "lathe-1", By: "Ada", Result: proof.Failed,
		At: time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC), Value: math.NaN(), Why: "the loop stayed closed"}
	due := proof.Due{Function: "estop", State: proof.DueFailed, Every: 24 * time.Hour, Last: &last}
	return api.Proofs{Rig: "lathe-1", Notice: proof.Notice, Steps: []api.ProofStep{
		api.ProofStepOf(&proof.Step{Function: "estop", Title: "Emergency stop", Every: time.Hour}, &due, &last)}}, nil
}

func (f *fakeProofs) Now() api.ProofProgress { return api.ProofProgress{Proof: 2, Act: "estop_push"} }

func (f *fakeProofs) Begin(b api.ProofBegin) (api.ProofBegun, error) {
	f.asked = append(f.asked, b)
	return api.ProofBegun{Proof: 2}, nil
}

func (f *fakeProofs) Arm(_ context.Context, id api.ProofID, who Who) (api.Started, error) {
	f.asked, f.who = append(f.asked, id), who
	return api.Started{Cycle: 7, Recipe: "light-only"}, nil
}

func (f *fakeProofs) Answer(a api.ProofAnswer) error { f.asked = append(f.asked, a); return nil }
func (f *fakeProofs) Cancel(id api.ProofID) error    { f.asked = append(f.asked, id); return nil }

func (f *fakeProofs) Sign(s api.ProofSign, who Who) (api.ProofRecord, error) {
	f.asked, f.who = append(f.asked, s), who
	return api.ProofRecord{}, api.Refusef("that proof is not under way any more; begin it again")
}

func (f *fakeProofs) Warnings() []string { return []string{"estop failed"} }

func TestProofPaths(t *testing.T) {
	value := 0.01
	for _, c := range []struct {
		target, body string
		code         int
		asked        any
		says         string
	}{
		{api.PathProofBegin, `{"function":"estop","by":"Ada"}`, 200, api.ProofBegin{Function: "estop", By: "Ada"}, `"proof":2`},
		{api.PathProofBegin, `{"by":"Ada"}`, 400, nil, "function is missing"},
		{api.PathProofBegin, `{"function":"estop"}`, 400, nil, "by is missing"},
		{api.PathProofBegin, `{"function":"est\nop","by":"Ada"}`, 400, nil, "control"},
		{api.PathProofArm, `{"proof":2,"by":"Ada"}`, 200, api.ProofID{Proof: 2, By: "Ada"}, `"cycle":7`},
		{api.PathProofArm, `{"by":"Ada"}`, 400, nil, "proof is missing"},
		{api.PathProofArm, `{"proof":2,"by":"Ada","recipe":"stem-7pin"}`, 400, nil, "unknown field"},
		{api.PathProofAnswer, `{"proof":2,"stage":1,"yes":true,"value":0.01,"by":"Ada"}`, 200,
			api.ProofAnswer{Proof: 2, Stage: 1, Yes: true, Value: &value, By: "Ada"}, `"done":"answer"`},
		{api.PathProofAnswer, `{"proof":2,"stage":-1,"by":"Ada"}`, 400, nil, "stage is negative"},
		{api.PathProofAnswer, `{"proof":2,"value":1e999,"by":"Ada"}`, 400, nil, "JSON"},
		{api.PathProofCancel, `{"proof":2,"by":"Ada"}`, 200, api.ProofID{Proof: 2, By: "Ada"}, `"done":"cancel"`},
		{api.PathProofSign, `{"proof":2,"by":"Ada","note":"button 1"}`, 409,
			api.ProofSign{Proof: 2, By: "Ada", Note: "button 1"}, "begin it again"},
		{api.PathProofSign, `{"proof":2,"by":"Ada","note":"` + strings.Repeat("x", 401) + `"}`, 400, nil, "note has 401 bytes"},
	} {
		f := &fakeProofs{}
		_, _, path := serving(t, func(o *Options) { o.Proofs = f })
		code, body := ask(t, path, "POST", c.target, asJSON, c.body)
		if code != c.code || !strings.Contains(body, c.says) {
			t.Errorf("%s %s: %d %s", c.target, c.body, code, body)
		}
		var want []any
		if c.asked != nil {
			want = []any{c.asked}
		}
		if diff := cmp.Diff(want, f.asked); diff != "" {
			t.Errorf("%s %s: asked, -want +got:\n%s", c.target, c.body, diff)
		}
		armedOrSigned := c.asked != nil && (c.target == api.PathProofArm || c.target == api.PathProofSign)
		if armedOrSigned && f.who != known("Ada") {
			t.Errorf("%s %s: %+v asks, want %+v", c.target, c.body, f.who, known("Ada"))
		}
	}
}

func TestProofsAreRead(t *testing.T) {
	_, _, path := serving(t, func(o *Options) { o.Proofs = &fakeProofs{} })
	c := clientOf(path)
	all, err := c.Proofs(t.Context())
	if err != nil || len(all.Steps) != 1 {
		t.Fatalf("%+v, %v", all, err)
	}
	s := all.Steps[0]
	if s.State != "failed" || s.EveryH != 24 || s.Last == nil || s.Last.Value != nil || s.Last.By != "Ada" ||
		!strings.Contains(s.Warning, "mend it") {
		t.Errorf("%+v", s)
	}
	if now, err := c.ProofNow(t.Context()); err != nil || now.Act != "estop_push" || now.Value != nil {
		t.Errorf("%+v, %v", now, err)
	}
	if f, err := c.Status(t.Context()); err != nil || len(f.ProofsDue) != 1 {
		t.Errorf("%v, %v", f.ProofsDue, err)
	}
}

// Who may only read makes no proof, and a daemon without proofs has no path.
func TestProofRights(t *testing.T) {
	f := &fakeProofs{}
	_, _, path := serving(t, func(o *Options) {
		o.Proofs, o.Permit = f, func(Peer) Permit { return MayRead }
	})
	code, _ := ask(t, path, "POST", api.PathProofBegin, asJSON, `{"function":"estop","by":"Ada"}`)
	if code != http.StatusForbidden || len(f.asked) > 0 {
		t.Errorf("code %d, asked %v", code, f.asked)
	}
	_, _, bare := serving(t, nil)
	if code, _ := ask(t, bare, "GET", api.PathProofs, "", ""); code != http.StatusNotFound {
		t.Errorf("code %d without proofs", code)
	}
}

// FuzzProofBody: whatever is sent, the answer is one of the codes, and the
// daemon is asked only what is valid.
func FuzzProofBody(f *testing.F) {
	targets := []string{api.PathProofBegin, api.PathProofArm, api.PathProofAnswer, api.PathProofCancel, api.PathProofSign}
	for _, body := range []string{`{"function":"estop","by":"b"}`, `{"proof":1,"by":"b"}`,
		`{"proof":1,"stage":1,"yes":true,"value":0.5,"by":"b"}`, `{"proof":1,"by":"b","note":"n"}`, `{"proof":-1}`,
		`{"proof":1,"by":"b"} {`, "\x00", `{"by":"\ud800"}`} {
		for i := range targets {
			f.Add(uint8(i), body)
		}
	}
	p := &fakeProofs{}
	made, err := New(Options{Daemon: &fakeDaemon{}, Records: fakeRecords{}, Causes: causes, Now: time.Now,
		Permit: AllWrite, Proofs: p})
	if err != nil {
		f.Fatal(err)
	}
	h := made.handler()
	f.Fuzz(func(t *testing.T, which uint8, body string) {
		p.asked = nil
		r, err := http.NewRequest("POST", targets[int(which)%len(targets)], strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", asJSON)
		w := &memory{header: http.Header{}}
		h.ServeHTTP(w, r)
		if w.code != 0 && w.code != 400 && w.code != 409 && w.code != 413 {
			t.Fatalf("code %d", w.code)
		}
		if (w.code == 0 || w.code == 409) != (len(p.asked) == 1) {
			t.Fatalf("code %d, asked %v", w.code, p.asked)
		}
		for _, a := range p.asked {
			text, err := json.Marshal(a)
			if err != nil || strings.ContainsAny(string(text), "\x00\x1b\n\r\x7f") {
				t.Fatalf("asked %+v, %v", a, err)
			}
			if err := validOf(a); err != nil {
				t.Fatalf("asked %+v: %v", a, err)
			}
		}
	})
}

// validOf checks what the daemon was asked once more.
func validOf(asked any) error {
	switch a := asked.(type) {
	case api.ProofBegin:
		return a.Valid()
	case api.ProofID:
		return a.Valid()
	case api.ProofAnswer:
		return a.Valid()
	case api.ProofSign:
		return a.Valid()
	}
	return fmt.Errorf("%T is no order", asked)
}
