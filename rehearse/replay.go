package rehearse

import (
	"fmt"
	"reflect"
	"strings"

	"pressrig/controller"
	"pressrig/rig"
)

// Difference is where a replay ends before the stored steps do: at the first
// request that comes out otherwise, or at a gap past which nothing can be
// replayed, because the machine's memory would be another.
type Difference struct {
	Tick   uint64  // step of the difference; of a gap the last step before it
	Gap    bool    // steps are missing after Tick
	Fields []Field // of the request that differ, empty at a gap
}

// Field is one field of a request that a replay gives another value.
type Field struct {
	Name string
	Want int64 // as stored
	Got  int64 // as replayed
}

// String says in one line what a person has to know.
func (d *Difference) String() string {
	if d.Gap {
		return fmt.Sprintf("steps are missing after tick %d: what follows cannot be replayed", d.Tick)
	}
	parts := make([]string, 0, len(d.Fields))
	for _, f := range d.Fields {
		parts = append(parts, fmt.Sprintf("%s: stored %d, replayed %d", f.Name, f.Want, f.Got))
	}
	return fmt.Sprintf("first difference at tick %d: %s", d.Tick, strings.Join(parts, "; "))
}

// Replay makes a machine for the rig of cfg, begins job at the first stored
// step and feeds it the others. Every request is compared with the stored one
// byte for byte; stored requests are never anything but compared.
//
// next gives the stored steps in order and false after the last. A nil input
// marks a gap, and so does a step whose tick does not follow the one before.
// steps counts the requests that are equal; diff is nil when all of them are.
func Replay(job controller.Job, cfg controller.Config,
	next func() (*controller.Input, *rig.Request, bool)) (steps int, diff *Difference) {
	m := controller.New(cfg)
	out := new(controller.Output)
	last := uint64(0)
	for {
		in, stored, more := next()
		if !more {
			return steps, nil
		}
		if in == nil || stored == nil || (steps > 0 && in.Tick != last+1) {
			return steps, &Difference{Tick: last, Gap: true}
		}
		last = in.Tick
		if steps == 0 {
			m.Begin(job, in, out)
		} else {
			m.Step(in, out)
		}
		if out.Request != *stored {
			return steps, &Difference{Tick: last, Fields: fields(stored, &out.Request)}
		}
		steps++
	}
}

// fields lists what differs between two requests, in the order of the struct.
func fields(stored, again *rig.Request) []Field {
	var out []Field
	a, b := reflect.ValueOf(*stored), reflect.ValueOf(*again)
	for i := range a.NumField() {
		want, got := number(a.Field(i)), number(b.Field(i))
		if want != got {
			out = append(out, Field{Name: a.Type().Field(i).Name, Want: want, Got: got})
		}
	}
	return out
}

// number is the value of a field; a request has nothing but sized integers.
func number(v reflect.Value) int64 {
	if v.CanInt() {
		return v.Int()
	}
	return int64(v.Uint())
}
