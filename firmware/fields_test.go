package firmware_test

import (
	"encoding/binary"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"unicode"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// records are the structs that cross between Go and C, in the order of
// test/records.h.
var records = []struct {
	name string
	of   reflect.Type
}{
	{"CONFIG_RECORD", reflect.TypeFor[warden.Config]()},
	{"STATE_RECORD", reflect.TypeFor[warden.State]()},
	{"INPUT_RECORD", reflect.TypeFor[warden.Input]()},
	{"OUTPUT_RECORD", reflect.TypeFor[warden.Output]()},
	{"REQUEST_RECORD", reflect.TypeFor[warden.Request]()},
	{"SNAPSHOT_RECORD", reflect.TypeFor[rig.Snapshot]()},
	{"HELLO_RECORD", reflect.TypeFor[wire.Hello]()},
}

// field is one number of a record, as C names it.
type field struct {
	name string // hands[1].given
	kind string // uint8
	size int
}

// fieldsOf lists a struct's numbers in order, those of arrays and structs
// within it one by one.
func fieldsOf(t reflect.Type, name string) []field {
	var all []field
	switch t.Kind() {
	case reflect.Struct:
		for i := range t.NumField() {
			inner := snake(t.Field(i).Name)
			if name != "" {
				inner = name + "." + inner
			}
			all = append(all, fieldsOf(t.Field(i).Type, inner)...)
		}
	case reflect.Array:
		for i := range t.Len() {
			all = append(all, fieldsOf(t.Elem(), fmt.Sprintf("%s[%d]", name, i))...)
		}
	default:
		all = append(all, field{name, t.Kind().String(), int(t.Size())})
	}
	return all
}

// snake is a Go name in C style: EstUncDC becomes est_unc_dc.
func snake(name string) string {
	var b strings.Builder
	runes := []rune(name)
	for i, r := range runes {
		if i > 0 && unicode.IsUpper(r) {
			before := runes[i-1]
			starts := i+1 < len(runes) && unicode.IsLower(runes[i+1])
			if !unicode.IsUpper(before) || starts {
				b.WriteByte('_')
			}
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// pack is a record as the C programs read and write it.
func pack(dst []byte, record any) []byte {
	dst, err := binary.Append(dst, binary.LittleEndian, record)
	if err != nil {
		panic(err) // a struct of sized integers into memory cannot fail
	}
	return dst
}

func TestNamesInC(t *testing.T) {
	for name, want := range map[string]string{
		"EstUncDC": "est_unc_dc", "NV": "nv", "NVMs": "nv_ms", "UsedArmID": "used_arm_id",
		"InEstopOK": "in_estop_ok", "OutFuel1": "out_fuel1", "iFuel": "i_fuel", "up32": "up32",
	} {
		if got := snake(name); got != want {
			t.Errorf("%s is %s in C; want %s", name, got, want)
		}
	}
}

// The list of fields that the C programs pack by is the specification's.
func TestFieldListIsFresh(t *testing.T) {
	var b strings.Builder
	b.WriteString("// Made from the Go structs by go test ./firmware -update; do not edit.\n" +
		"// Every number of the records in order, for records.c.\n")
	for _, r := range records {
		for _, f := range fieldsOf(r.of, "") {
			fmt.Fprintf(&b, "FIELD(%s, %s_t, %s)\n", r.name, f.kind, f.name)
		}
	}
	golden(t, "test/fields.h", b.String())
}
