package panel

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"time"

	"pressrig/controller"
	"pressrig/panel/api"
	"pressrig/trials"
)

// readSide has all that needs the read permission. Nothing here changes
// anything in the daemon.
func (p *Panel) readSide(mux *http.ServeMux) {
	mux.HandleFunc("GET "+api.PathStatus, p.status)
	mux.HandleFunc("GET "+api.PathFollow, p.follow)
	mux.HandleFunc("GET "+api.PathRecipes, p.recipes)
	mux.HandleFunc("GET "+api.PathRecipes+"/{name}", p.recipe)
	mux.HandleFunc("GET "+api.PathCycles, p.cycles)
	mux.HandleFunc("GET "+api.PathCycles+"/{number}", p.cycle)
	mux.HandleFunc("GET "+api.PathCycles+"/{number}/trace", p.trace)
	mux.HandleFunc("GET "+api.PathCompare, p.compare)
	mux.HandleFunc("/", p.unknown)
}

func (p *Panel) status(w http.ResponseWriter, _ *http.Request) {
	newest, _ := p.box.mark()
	v := p.box.read(newest, nil)
	p.give(w, p.frame(&v))
}

// frame puts a view into the words of the API.
func (p *Panel) frame(v *view) api.Frame {
	f := api.Frame{Version: api.Version, Rig: p.o.Rig}
	if p.o.Proofs != nil {
		f.ProofsDue = p.o.Proofs.Warnings()
	}
	if !v.told {
		f.Status = api.Status{State: controller.Idle.String(), Phase: -1, Lock: api.LockWord(0),
			Doing: "the daemon is starting"}
		return f
	}
	f.Status = api.StatusOf(&v.status, p.o.Causes)
	if v.link {
		f.Snapshot = api.SnapshotOf(&v.snap, v.ageMs)
	}
	for i := range v.records {
		f.Records = append(f.Records, api.RecordOf(v.first+uint64(i), &v.records[i], p.o.Causes))
	}
	return f
}

// follow writes a frame a line until the caller leaves. Each frame has the
// values of its own moment, so a slow caller skips values, and one that takes
// nothing for frameTimeout is closed.
func (p *Panel) follow(w http.ResponseWriter, r *http.Request) {
	select {
	case p.follows <- struct{}{}:
		defer func() { <-p.follows }()
	default:
		p.refuse(w, &api.Error{Code: api.Busy, Message: "too many followers of this daemon",
			Hint: "close a page"})
		return
	}
	w.Header().Set("Content-Type", "application/x-ndjson")
	control, enc := http.NewResponseController(w), json.NewEncoder(w)
	ticker := time.NewTicker(p.o.Every)
	defer ticker.Stop()
	seen, dropped := p.box.mark()
	buffer := make([]controller.Record, 0, keptRecords)
	for {
		v := p.box.read(seen, buffer)
		f := p.frame(&v)
		f.Missed = v.missed + v.dropped - dropped
		seen, dropped = v.first+uint64(len(v.records))-1, v.dropped
		if err := control.SetWriteDeadline(p.o.Now().Add(p.patient)); err != nil {
			return
		}
		if enc.Encode(f) != nil || control.Flush() != nil {
			return // the caller left
		}
		select {
		case <-ticker.C:
		case <-r.Context().Done():
			return
		case <-p.leave:
			return
		}
	}
}

func (p *Panel) recipes(w http.ResponseWriter, _ *http.Request) {
	list := []api.Recipe{}
	for _, r := range p.o.Daemon.Recipes() {
		list = append(list, api.RecipeOf(r, false))
	}
	p.give(w, list)
}

func (p *Panel) recipe(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	for _, one := range p.o.Daemon.Recipes() {
		if one.Name == name {
			p.give(w, api.RecipeOf(one, true))
			return
		}
	}
	p.refuse(w, &api.Error{Code: api.NotFound, Message: "no stored recipe of that name",
		Hint: "GET " + api.PathRecipes + " lists them"})
}

func (p *Panel) cycles(w http.ResponseWriter, r *http.Request) {
	limit, before := uint64(50), uint64(0)
	query := r.URL.Query()
	for key, to := range map[string]*uint64{"limit": &limit, "before": &before} {
		if text := query.Get(key); text != "" {
			v, err := strconv.ParseUint(text, 10, 32)
			if err != nil {
				p.refuse(w, wrong("%s must be a whole number of at most 32 bits", key))
				return
			}
			*to = v
		}
	}
	if limit < 1 || limit > api.MaxCycles {
		p.refuse(w, wrong("limit must lie between 1 and %d", api.MaxCycles))
		return
	}
	list, err := p.o.Records.Cycles(r.Context(), uint32(before), int(limit))
	if err != nil {
		p.refuse(w, err)
		return
	}
	out := []api.Cycle{}
	for i := range list {
		out = append(out, api.CycleOf(&list[i]))
	}
	p.give(w, out)
}

func (p *Panel) cycle(w http.ResponseWriter, r *http.Request) {
	n, err := cycleNumber(r.PathValue("number"))
	if err != nil {
		p.refuse(w, err)
		return
	}
	c, err := p.o.Records.Cycle(r.Context(), n)
	if err != nil {
		p.refuse(w, err)
		return
	}
	p.give(w, api.CycleOf(&c))
}

func (p *Panel) trace(w http.ResponseWriter, r *http.Request) {
	n, err := cycleNumber(r.PathValue("number"))
	if err != nil {
		p.refuse(w, err)
		return
	}
	t, err := p.o.Records.Trace(r.Context(), n)
	if err != nil {
		p.refuse(w, err)
		return
	}
	p.give(w, api.TraceOf(t))
}

// compare answers with JSON, or with the overlay picture for form=svg.
func (p *Panel) compare(w http.ResponseWriter, r *http.Request) {
	query := r.URL.Query()
	cycles, traces, err := p.load(r.Context(), query["cycle"])
	if err != nil {
		p.refuse(w, err)
		return
	}
	switch query.Get("form") {
	case "", "json":
		p.give(w, trials.Compare(cycles, traces))
	case "text":
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		_, _ = w.Write([]byte(trials.Compare(cycles, traces).Text()))
	case "svg":
		w.Header().Set("Content-Type", "image/svg+xml")
		_, _ = w.Write(trials.Overlay(cycles, traces))
	default:
		p.refuse(w, wrong("form must be json, text or svg"))
	}
}

func (p *Panel) load(ctx context.Context, numbers []string) (
	[]trials.Cycle, []*trials.Trace, error) {
	if len(numbers) < 2 || len(numbers) > api.MaxCompare {
		return nil, nil, wrong("a comparison needs 2 to %d times cycle=N", api.MaxCompare)
	}
	var cycles []trials.Cycle
	var traces []*trials.Trace
	for _, text := range numbers {
		n, err := cycleNumber(text)
		if err != nil {
			return nil, nil, err
		}
		c, err := p.o.Records.Cycle(ctx, n)
		if err != nil {
			return nil, nil, err
		}
		t, err := p.o.Records.Trace(ctx, n)
		if err != nil {
			return nil, nil, err
		}
		cycles, traces = append(cycles, c), append(traces, t)
	}
	return cycles, traces, nil
}

func cycleNumber(text string) (uint32, error) {
	n, err := strconv.ParseUint(text, 10, 32)
	if err != nil || n == 0 {
		return 0, wrong("a cycle number is a whole number from 1")
	}
	return uint32(n), nil
}

func (p *Panel) unknown(w http.ResponseWriter, _ *http.Request) {
	p.refuse(w, &api.Error{Code: api.NotFound, Message: "no such path or method in the local API"})
}

// give writes one JSON answer.
func (p *Panel) give(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(v); err != nil {
		var bad *json.UnsupportedValueError // not the caller that left: a number that is none
		if errors.As(err, &bad) {
			p.o.Log(err)
		}
	}
}
