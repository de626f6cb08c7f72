package firmware_test

import (
	"fmt"
	"os"
	"os/exec"
	"reflect"
	"strings"
	"testing"

	"pressrig/safety"
	"pressrig/safety/chaos"
	"pressrig/safety/warden"
)

const vectorsFile = "test/vectors.txt"

// recorder writes what a warden is given and what it makes of it as vectors.
type recorder struct {
	text   strings.Builder
	in     warden.Input // as the reader of the vectors has it
	shown  warden.State // as expected last
	steps  int          // not written yet
	config warden.Config
}

// numbersOf lists the numbers of a record with their values.
func numbersOf(record any) (names []string, values []string) {
	for _, f := range fieldsOf(reflect.TypeOf(record), "") {
		names = append(names, f.name)
	}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i))
			}
		case reflect.Array:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		default:
			values = append(values, fmt.Sprint(v.Interface()))
		}
	}
	walk(reflect.ValueOf(record))
	return names, values
}

// changed writes the numbers in which two records differ.
func (r *recorder) changed(prefix string, before, after any) {
	names, was := numbersOf(before)
	_, is := numbersOf(after)
	for i, name := range names {
		if was[i] != is[i] {
			r.flush()
			fmt.Fprintf(&r.text, "%s%s %s\n", prefix, name, is[i])
		}
	}
}

func (r *recorder) flush() {
	if r.steps > 0 {
		fmt.Fprintf(&r.text, "step %d\n", r.steps)
		r.steps = 0
	}
}

// begin starts a case from a walk's state.
func (r *recorder) begin(name string, x *chaos.Walk) {
	fmt.Fprintf(&r.text, "\ncase %s\n", name)
	r.changed("config.", r.config, x.Config)
	r.config = x.Config
	fmt.Fprintf(&r.text, "power-up %d\n", warden.NVClear)
	var fresh warden.State
	warden.Init(&fresh, warden.NVClear)
	r.changed("state.", fresh, x.State)
	r.in, r.shown = warden.Input{}, x.State
}

// step is a warden's step that is recorded.
func (r *recorder) step(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	r.changed("input.", r.in, *in)
	r.in = *in
	r.in.Fresh, r.in.NewSession, r.in.BadFrames = 0, 0, 0
	warden.Step(c, s, in, out)
	r.steps++
	now := visible(s)
	r.changed("expect.", visible(&r.shown), now)
	if now != visible(&r.shown) {
		r.shown = *s
	}
}

// visible is the part of a state that is expected whenever it changes.
func visible(s *warden.State) warden.State {
	return warden.State{Present: s.Present, Trips: s.Trips, First: s.First, Lock: s.Lock, Link: s.Link,
		Armed: s.Armed, Started: s.Started, Burner: s.Burner, Oxygen: s.Oxygen, Press: s.Press,
		Touching: s.Touching, Spindle: s.Spindle, NV: s.NV, Out: s.Out}
}

// end expects every number of the state.
func (r *recorder) end(s *warden.State) {
	r.flush()
	names, values := numbersOf(*s)
	for i, name := range names {
		fmt.Fprintf(&r.text, "expect.%s %s\n", name, values[i])
	}
}

// record makes the vectors: one cycle from power-up, and for each cause how it
// comes first, from the state in which a walk provokes it.
func record(t *testing.T) string {
	t.Helper()
	r := &recorder{}
	r.text.WriteString("# What the Go warden does: made by go test ./firmware -update, do not edit.\n" +
		"# The format is in vectors.c. All times are a tenth of a real rig's; values are invented.\n")
	x := quick(0)
	r.begin("a cycle from power-up", x)
	x.Step = r.step
	for range 1200 {
		x.Tick()
		x.Follow()
	}
	r.end(&x.State)
	for cause := range warden.NumCauses {
		if chaos.Aimed(cause) && cause != warden.CauseRestart {
			r.cause(t, cause)
		}
	}
	return r.text.String()
}

// cause records how a cause comes, with the first walk that provokes it soon.
func (r *recorder) cause(t *testing.T, cause uint8) {
	t.Helper()
	for k := range uint64(200) {
		x := quick(uint64(cause) + k*uint64(warden.NumCauses))
		for range 8000 {
			if x.Aiming() {
				break
			}
			x.Tick()
			x.Follow()
		}
		if comes(x.Fork(k), cause) == 0 {
			continue
		}
		r.begin(safety.Name(cause), x)
		y := x.Fork(k)
		y.Step = r.step
		comes(y, cause)
		r.end(&y.State)
		return
	}
	t.Errorf("no walk provokes cause %d soon", cause)
}

// comes plays a walk until the cause is present or first, some ticks longer,
// and tells how many; 0 when it does not come.
func comes(x *chaos.Walk, cause uint8) int {
	const soon, after = 1200, 20
	for n := range soon {
		x.Tick()
		if x.State.First == cause || cause == warden.CauseButton && x.State.Present&(1<<cause) != 0 {
			for range after {
				x.Follow()
				x.Tick()
			}
			return n + after
		}
		x.Follow()
	}
	return 0
}

// The vectors are what the Go warden does, and the C warden does the same.
func TestVectors(t *testing.T) {
	golden(t, vectorsFile, record(t))
	text, err := os.ReadFile(vectorsFile)
	if err != nil {
		t.Fatal(err)
	}
	program := build(t, "test/vectors.c")
	check := func(text string) (string, int) {
		cmd := exec.Command(program)
		cmd.Stdin = strings.NewReader(text)
		out, _ := cmd.CombinedOutput()
		return string(out), cmd.ProcessState.ExitCode()
	}
	if out, code := check(string(text)); code != 0 {
		t.Errorf("exit code %d: %s", code, out)
	} else {
		t.Log(out)
	}
	for _, broken := range []struct {
		text string
		code int
	}{
		{"case x\npower-up 90\nexpect.lock 1\n", 1},
		{"case x\npower-up 60\nexpect.lock 3\n", 0},
		{"case x\npower-up 90\nexpect.lok 0\n", 2},
		{"case x\nfast-forward 90\n", 2},
		{"state.lock 256\nexpect.lock 0\n", 2},
		{"input.analog[0] -32768\nstep 1\nexpect.lock 3\n", 0},
		{"input.analog[0] -40000\nexpect.lock 0\n", 2},
		{"power-up 90\nstep 5x\nexpect.lock 0\n", 2},
		{"# nothing\n", 2},
		{"step", 2},
	} {
		if out, code := check(broken.text); code != broken.code {
			t.Errorf("%q: exit code %d, want %d: %s", broken.text, code, broken.code, out)
		}
	}
}
