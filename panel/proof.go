package panel

import (
	"context"
	"net/http"

	"pressrig/panel/api"
)

// Proofs is what the panel needs of the daemon for proof tests. Errors are
// told as those of Daemon are.
type Proofs interface {
	// List is every step and how it stands.
	List() (api.Proofs, error)
	// Now is the proof under way.
	Now() api.ProofProgress
	Begin(api.ProofBegin) (api.ProofBegun, error)
	// Arm arms the recipe that the proof under way wants, and no other.
	Arm(context.Context, api.ProofID, Who) (api.Started, error)
	Answer(api.ProofAnswer) error
	Cancel(api.ProofID) error
	Sign(api.ProofSign, Who) (api.ProofRecord, error)
	// Warnings are what is due, overdue or failed, for every status.
	Warnings() []string
}

// proofSides has the paths of the proof tests.
func (p *Panel) proofSides(read, write *http.ServeMux) {
	if p.o.Proofs == nil {
		return
	}
	read.HandleFunc("GET "+api.PathProofs, func(w http.ResponseWriter, _ *http.Request) {
		list, err := p.o.Proofs.List()
		p.answerWith(w, list, err)
	})
	read.HandleFunc("GET "+api.PathProofNow, func(w http.ResponseWriter, _ *http.Request) {
		p.give(w, p.o.Proofs.Now())
	})
	write.HandleFunc("POST "+api.PathProofBegin, func(w http.ResponseWriter, r *http.Request) {
		var in api.ProofBegin
		proofOrder(p, w, r, &in, func(context.Context) (api.ProofBegun, error) { return p.o.Proofs.Begin(in) })
	})
	write.HandleFunc("POST "+api.PathProofArm, func(w http.ResponseWriter, r *http.Request) {
		var in api.ProofID
		proofOrder(p, w, r, &in, func(ctx context.Context) (api.Started, error) { return p.o.Proofs.Arm(ctx, in, whoOf(ctx, in.By)) })
	})
	write.HandleFunc("POST "+api.PathProofAnswer, func(w http.ResponseWriter, r *http.Request) {
		var in api.ProofAnswer
		proofOrder(p, w, r, &in, func(context.Context) (api.Done, error) {
			return api.Done{Done: "answer"}, p.o.Proofs.Answer(in)
		})
	})
	write.HandleFunc("POST "+api.PathProofCancel, func(w http.ResponseWriter, r *http.Request) {
		var in api.ProofID
		proofOrder(p, w, r, &in, func(context.Context) (api.Done, error) {
			return api.Done{Done: "cancel"}, p.o.Proofs.Cancel(in)
		})
	})
	write.HandleFunc("POST "+api.PathProofSign, func(w http.ResponseWriter, r *http.Request) {
		var in api.ProofSign
		proofOrder(p, w, r, &in, func(ctx context.Context) (api.ProofRecord, error) {
			return p.o.Proofs.Sign(in, whoOf(ctx, in.By))
		})
	})
}

// proofOrder reads an order into in, has it done and answers.
func proofOrder[T any](p *Panel, w http.ResponseWriter, r *http.Request, in interface{ Valid() error },
	do func(context.Context) (T, error)) {
	if err := decode(w, r, api.MaxBody, in); err != nil {
		p.refuse(w, err)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), commandTimeout)
	defer cancel()
	out, err := do(ctx)
	p.answerWith(w, out, err)
}

// answerWith gives v, or refuses.
func (p *Panel) answerWith(w http.ResponseWriter, v any, err error) {
	if err != nil {
		p.refuse(w, err)
		return
	}
	p.give(w, v)
}
