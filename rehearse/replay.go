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

// String says what was stored and what came out.
func (f Field) String() string {
	return fmt.Sprintf("%s: stored %d, replayed %d", f.Name, f.Want, f.Got)
}

// String says in one line what a person has to know.
func (d *Difference) String() string {
	if d.Gap {
		return fmt.Sprintf("steps are missing after tick %d: what follows cannot be replayed", d.Tick)
	}
	parts := make([]string, 0, len(d.Fields))
	for _, f := range d.Fields {
		parts = append(parts, f.String())
	}
	return fmt.Sprintf("first difference at tick %d: %s", d.Tick, strings.Join(parts, "; "))
}

// Replayer is a machine that lives a stored cycle again, one step at a time.
type Replayer struct {
	Equal int // requests that came out as stored

	machine *controller.Machine
	out     controller.Output
	job     controller.Job
	last    uint64 // newest tick
}

// NewReplayer makes a machine for the rig of cfg; its first step begins job.
func NewReplayer(job controller.Job, cfg controller.Config) *Replayer {
	return &Replayer{machine: controller.New(cfg), job: job}
}

// Step feeds one stored input and compares the request with the stored one;
// stored requests are never anything but compared. nil means equal. After a
// difference the replay is over. A step whose tick does not follow the one
// before is a gap.
func (r *Replayer) Step(in *controller.Input, stored *rig.Request) *Difference {
	if r.Equal > 0 && in.Tick != r.last+1 {
		return &Difference{Tick: r.last, Gap: true}
	}
	r.last = in.Tick
	if r.Equal == 0 {
		r.machine.Begin(r.job, in, &r.out)
	} else {
		r.machine.Step(in, &r.out)
	}
	if r.out.Request != *stored {
		return &Difference{Tick: r.last, Fields: fields(stored, &r.out.Request)}
	}
	r.Equal++
	return nil
}

// Replay feeds all the stored steps that next gives, in order, and false after
// the last. A nil input marks a gap. steps counts the requests that are equal;
// diff is nil when all of them are.
func Replay(job controller.Job, cfg controller.Config,
	next func() (*controller.Input, *rig.Request, bool)) (steps int, diff *Difference) {
	r := NewReplayer(job, cfg)
	for {
		in, stored, more := next()
		if !more {
			return r.Equal, nil
		}
		if in == nil || stored == nil {
			return r.Equal, &Difference{Tick: r.last, Gap: true}
		}
		if diff := r.Step(in, stored); diff != nil {
			return r.Equal, diff
		}
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
