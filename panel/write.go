package panel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"

	"pressrig/controller"
	"pressrig/panel/api"
)

// writeSide has all that needs the command permission. None of it energises
// anything: a press arms, and the START button at the rig starts.
func (p *Panel) writeSide(mux *http.ServeMux) {
	mux.HandleFunc("POST "+api.PathPress, p.press)
	mux.HandleFunc("POST "+api.PathCommand, p.command)
	mux.HandleFunc("POST "+api.PathAnswer, p.answer)
	mux.HandleFunc("POST "+api.PathAck, p.ack)
	mux.HandleFunc("/", p.unknown)
}

func (p *Panel) press(w http.ResponseWriter, r *http.Request) {
	var in api.Press
	if err := decode(w, r, api.MaxPressBody, &in); err != nil {
		p.refuse(w, err)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), commandTimeout)
	defer cancel()
	order := Order{Recipe: in.Recipe, File: in.File, Who: whoOf(ctx, in.By), Dummy: in.Dummy, Last: in.Last}
	if in.Text != "" {
		order.Text = []byte(in.Text)
	}
	number, err := p.o.Daemon.Press(ctx, order)
	if err != nil {
		p.refuse(w, err)
		return
	}
	p.give(w, api.Started{Cycle: number, Recipe: in.Recipe})
}

func (p *Panel) command(w http.ResponseWriter, r *http.Request) {
	var in api.Command
	if err := decode(w, r, api.MaxBody, &in); err != nil {
		p.refuse(w, err)
		return
	}
	p.act(w, r, in.Command, func(ctx context.Context) error {
		return p.o.Daemon.Command(ctx, controller.CommandNamed(in.Command), whoOf(ctx, in.By))
	})
}

func (p *Panel) answer(w http.ResponseWriter, r *http.Request) {
	var in api.Answer
	if err := decode(w, r, api.MaxBody, &in); err != nil {
		p.refuse(w, err)
		return
	}
	p.act(w, r, "answer", func(ctx context.Context) error {
		return p.o.Daemon.Answer(ctx, in.Prompt, in.Yes, whoOf(ctx, in.By))
	})
}

func (p *Panel) ack(w http.ResponseWriter, r *http.Request) {
	var in api.Ack
	if err := decode(w, r, api.MaxBody, &in); err != nil {
		p.refuse(w, err)
		return
	}
	p.act(w, r, "ack", func(ctx context.Context) error { return p.o.Daemon.Ack(ctx, whoOf(ctx, in.By)) })
}

func (p *Panel) act(w http.ResponseWriter, r *http.Request, what string,
	do func(context.Context) error) {
	ctx, cancel := context.WithTimeout(r.Context(), commandTimeout)
	defer cancel()
	if err := do(ctx); err != nil {
		p.refuse(w, err)
		return
	}
	p.give(w, api.Done{Done: what})
}

// decode reads exactly one JSON object of at most limit bytes, with no key
// that the words do not have, and checks it.
func decode(w http.ResponseWriter, r *http.Request, limit int64,
	into interface{ Valid() error }) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return wrong("the content type must be application/json")
	}
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, limit))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return decodeError(err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		if err != nil {
			return decodeError(err)
		}
		return wrong("one JSON object is wanted; more follows it")
	}
	return into.Valid()
}

func decodeError(err error) error {
	var long *http.MaxBytesError
	if errors.As(err, &long) {
		return &api.Error{Code: api.TooLarge,
			Message: fmt.Sprintf("the request has more than %d bytes", long.Limit)}
	}
	return wrong("the request is not the JSON that is wanted: %v", err)
}

func wrong(format string, args ...any) *api.Error {
	return &api.Error{Code: api.Wrong, Message: fmt.Sprintf(format, args...)}
}

// httpStatus is the status line of each code.
var httpStatus = map[api.Code]int{
	api.Wrong:    http.StatusBadRequest,
	api.TooLarge: http.StatusRequestEntityTooLarge,
	api.NoRight:  http.StatusForbidden,
	api.NotFound: http.StatusNotFound,
	api.Refused:  http.StatusConflict,
	api.Problems: http.StatusUnprocessableEntity,
	api.Busy:     http.StatusServiceUnavailable,
	api.Internal: http.StatusInternalServerError,
}

// refuse tells an error. One without a code is told as internal, its cause
// only to the log.
func (p *Panel) refuse(w http.ResponseWriter, err error) {
	var known *api.Error
	if !errors.As(err, &known) {
		if !errors.Is(err, context.Canceled) {
			p.o.Log(err)
		}
		known = &api.Error{Code: api.Internal, Message: "the daemon could not do this",
			Hint: "its log has the cause"}
	}
	status, ok := httpStatus[known.Code]
	if !ok {
		status = http.StatusInternalServerError
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(known) // the caller left
}
