//go:build object

package object_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pressrig/firmware/object"
	"pressrig/safety/warden"
)

// leaf is one number of a Go struct.
type leaf struct {
	name         string
	offset, size uintptr
}

func leaves(t reflect.Type, name string, at uintptr) (all []leaf) {
	switch t.Kind() {
	case reflect.Struct:
		for i := range t.NumField() {
			f := t.Field(i)
			all = append(all, leaves(f.Type, name+"."+f.Name, at+f.Offset)...)
		}
	case reflect.Array:
		for i := range t.Len() {
			all = append(all, leaves(t.Elem(), name, at+uintptr(i)*t.Elem().Size())...)
		}
	default:
		all = []leaf{{name, at, t.Size()}}
	}
	return all
}

// Go and C lay out every record alike, so that one memory is both.
func TestLayoutsAreTheSame(t *testing.T) {
	for record, of := range map[int]reflect.Type{object.Config: reflect.TypeFor[warden.Config](),
		object.State: reflect.TypeFor[warden.State](), object.Input: reflect.TypeFor[warden.Input](),
		object.Output: reflect.TypeFor[warden.Output]()} {
		c, size := object.Layout(record)
		g := leaves(of, of.Name(), 0)
		if len(c) != len(g) || size != of.Size() {
			t.Fatalf("%s has %d numbers in %d bytes in Go, %d in %d in C", of, len(g), of.Size(), len(c), size)
		}
		for i := range c {
			if c[i].Offset != g[i].offset || c[i].Size != g[i].size {
				t.Errorf("%s lies at %d with %d bytes, in C %s at %d with %d", g[i].name, g[i].offset, g[i].size,
					c[i].Name, c[i].Offset, c[i].Size)
			}
		}
	}
}

// seeded are faults that a translation to C could have, each with the
// exploration that has to find it and a word of the invariant that it breaks.
var seeded = []struct{ file, right, wrong, explore string }{
	{"burner.c", "s->trial_ms = 1;", "s->trial_ms = 0;", "TestExploreBurner"},
	{"press.c", "bool able = has(in, IN_DOOR_CLOSED) && !has(in, IN_PRESS_OPEN) &&", "bool able = ", "TestExplorePress$|TestExploreProduct$"},
	{"link.c", "s->used_arm_id = s->arm_id;\n\t\t}", "}", "TestExploreLink"},
	{"hands.c", "h->ready = 0;\n\t} else {", "} else {", "TestExploreProduct|TestExploreHands|TestExplorePress"},
}

// The search through the compiled core finds a fault that is compiled into it.
func TestSeededFaultsAreFound(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range seeded {
		t.Run(f.file, func(t *testing.T) {
			dir := t.TempDir()
			for _, folder := range []string{"safety", "firmware/core", "firmware/hal", "firmware/boards", "firmware/test", "firmware/object"} {
				if err := os.CopyFS(filepath.Join(dir, folder), os.DirFS(filepath.Join(root, folder))); err != nil {
					t.Fatal(err)
				}
			}
			for _, file := range []string{"go.mod", "go.sum"} {
				text, err := os.ReadFile(filepath.Join(root, file))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, file), text, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			name := filepath.Join(dir, "firmware/core", f.file)
			text, err := os.ReadFile(name)
			if err != nil || strings.Count(string(text), f.right) != 1 {
				t.Fatalf("core/%s has not exactly one %q: change this list with it; %v", f.file, f.right, err)
			}
			if err := os.WriteFile(name, []byte(strings.Replace(string(text), f.right, f.wrong, 1)), 0o644); err != nil {
				t.Fatal(err)
			}
			cmd := exec.Command("go", "test", "-tags", "object", "-run", f.explore, "./safety/warden")
			cmd.Dir = dir
			out, err := cmd.CombinedOutput()
			if err == nil || !strings.Contains(string(out), "--- FAIL") {
				t.Errorf("not found: %v\n%s", err, out)
				return
			}
			t.Logf("%.600s", out)
		})
	}
}
