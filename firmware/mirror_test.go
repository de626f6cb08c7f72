package firmware_test

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/parser"
	"go/printer"
	"go/token"
	"go/types"
	"hash/crc32"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/safety/warden"
)

const follow = "change core/ with the specification"

// specification parses package safety/warden.
func specification(t *testing.T) (*types.Package, map[string]*ast.File) {
	t.Helper()
	names, err := filepath.Glob("../safety/warden/*.go")
	if err != nil {
		t.Fatal(err)
	}
	fset, byName, files := token.NewFileSet(), map[string]*ast.File{}, []*ast.File{}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(fset, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		byName[strings.TrimSuffix(filepath.Base(name), ".go")] = file
		files = append(files, file)
	}
	pkg, err := (&types.Config{}).Check("warden", fset, files, nil)
	if err != nil {
		t.Fatal(err)
	}
	return pkg, byName
}

// Every constant of the specification is in C with the same value, and C has
// no other.
func TestNumbersAreTheSpecifications(t *testing.T) {
	pkg, _ := specification(t)
	have := constants(t, true)
	want := map[string]int64{}
	for _, name := range pkg.Scope().Names() {
		c, ok := pkg.Scope().Lookup(name).(*types.Const)
		if !ok {
			continue
		}
		v, _ := constant.Int64Val(c.Val())
		inC := strings.ToUpper(snake(name))
		want[inC] = v
		if got, ok := have[inC]; !ok {
			t.Errorf("%s = %d of safety/warden is not in C (as %s): %s", name, v, inC, follow)
		} else if got != v {
			t.Errorf("%s is %d in safety/warden, %s is %d in C: %s", name, v, inC, got, follow)
		}
	}
	for name := range have {
		if _, ok := want[name]; !ok && name != "SET_BYTES" {
			t.Errorf("%s is in C, but safety/warden has no such constant: %s", name, follow)
		}
	}
	if len(want) < 150 {
		t.Errorf("found only %d constants", len(want))
	}
}

// The numbers of the wire, by hand: package wire has other names.
func TestNumbersOfTheWire(t *testing.T) {
	have := constants(t, false)
	want := map[string]int64{
		"WIRE_VERSION": int64(wire.Version), "WIRE_HEADER_BYTES": wire.HeaderBytes, "WIRE_CRC_BYTES": wire.CRCBytes,
		"WIRE_MAX_FRAME": wire.MaxFrame, "WIRE_MAX_ENCODED": wire.MaxEncoded,
		"WIRE_CONFIG_BYTES": int64(wire.ConfigBytes()), "WIRE_PIECE_BYTES": wire.PieceBytes,
		"WIRE_PIECES": int64(wire.ConfigPieces()), "WIRE_FIRMWARE_BYTES": wire.FirmwareBytes,
		"WIRE_LINE_BYTES": int64(max(wire.ClassSnapshot.WireBytes(), wire.ClassHello.WireBytes()+1, wire.ConfigBytes())),
		"WIRE_MAX_AHEAD":  int64(wire.MaxAhead), "WIRE_MAX_AGE_MS": int64(wire.MaxAgeMs), "WIRE_SILENT_MS": int64(wire.SilentMs),
		"WIRE_EVENT_BOOT": int64(wire.EventBoot), "WIRE_EVENT_TRIP": int64(wire.EventTrip),
		"WIRE_EVENT_RESET": int64(wire.EventReset), "WIRE_EVENT_STORAGE": int64(wire.EventStorage),
		"WIRE_EVENT_OVERRUN": int64(wire.EventOverrun), "WIRE_EVENT_MEMORY": int64(wire.EventMemory),
		"WIRE_NO_FRAME": 0, "WIRE_NUM_VERDICT": int64(wire.NumVerdict),
	}
	inC := func(words string) string {
		return "WIRE_" + strings.ToUpper(strings.ReplaceAll(words, " ", "_"))
	}
	for v := wire.Accepted; v < wire.NumVerdict; v++ {
		want[inC(v.String())] = int64(v)
	}
	for class := range wire.Class(255) {
		if class.WireBytes() > 0 {
			want[inC(class.String())] = int64(class)
		}
	}
	for name, v := range want {
		if got, ok := have[name]; !ok || got != v {
			t.Errorf("package wire has %s = %d, core/wire.h %d: %s", name, v, got, follow)
		}
	}
	for name := range have {
		if _, ok := want[name]; !ok {
			t.Errorf("core/wire.h has %s, package wire has not", name)
		}
	}
}

// The structs have the same fields of the same size in the same order.
func TestStructsAreTheSpecifications(t *testing.T) {
	have := map[string][]string{}
	for _, s := range core(t) {
		for _, m := range typedefs.FindAllStringSubmatch(s.text, -1) {
			for _, line := range strings.Split(m[1], "\n") {
				if f := member.FindStringSubmatch(line); f != nil {
					have[m[2]] = append(have[m[2]], strings.TrimSpace(f[1]+" "+f[2]+" "+f[3]))
				} else if line != "" {
					t.Errorf("%s has a line that this test cannot read: %q", m[2], line)
				}
			}
		}
	}
	sizes := constants(t, true)
	for _, goes := range []any{warden.Config{}, warden.Request{}, warden.Input{}, warden.Output{},
		warden.Reaction{}, warden.Row{}, warden.Hands{}, warden.Flow{}, warden.Filter{}, warden.Filtered{}, warden.State{}} {
		of := reflect.TypeOf(goes)
		inC := "warden_" + snake(of.Name())
		fields := have[inC]
		for i := range of.NumField() {
			want := memberInC(of.Field(i))
			if i >= len(fields) {
				t.Errorf("%s ends before %q: %s", inC, want, follow)
				break
			}
			got := fields[i]
			if parts := strings.Fields(got); len(parts) == 3 {
				if n, ok := sizes[parts[2]]; ok {
					got = fmt.Sprintf("%s %s %d", parts[0], parts[1], n)
				}
			}
			if got != want {
				t.Errorf("%s: field %d is %q in C, %q in safety/warden: %s", inC, i, got, want, follow)
			}
		}
		if len(fields) > of.NumField() {
			t.Errorf("%s has %d fields more than safety/warden: %s", inC, len(fields)-of.NumField(), follow)
		}
	}
}

// memberInC is a field as the C struct should have it: type, name, length.
func memberInC(f reflect.StructField) string {
	of, length := f.Type, ""
	if of.Kind() == reflect.Array {
		of, length = of.Elem(), " "+strconv.Itoa(of.Len())
	}
	kind := of.Kind().String() + "_t"
	if of.Kind() == reflect.Struct {
		kind = "warden_" + snake(of.Name())
	}
	return kind + " " + snake(f.Name) + length
}

// The matrix has the same rows.
func TestMatrixIsTheSpecifications(t *testing.T) {
	text, err := os.ReadFile("core/causes.c")
	if err != nil {
		t.Fatal(err)
	}
	names := constants(t, true)
	var have [warden.NumCauses]warden.Row
	row := regexp.MustCompile(`\[(\w+)\] = \{\{(\w+), (\w+), (\w+), (\w+), (\w+)\}, (\d)\},`)
	for _, m := range row.FindAllStringSubmatch(string(text), -1) {
		var v [5]uint8
		for i := range v {
			n, ok := names[m[i+2]]
			if !ok {
				t.Fatalf("row %s: %s is no constant", m[1], m[i+2])
			}
			v[i] = uint8(n)
		}
		have[names[m[1]]] = warden.Row{Reaction: warden.Reaction{Gas: v[0], Spindle: v[1], Above: v[2],
			Contact: v[3], Lock: v[4]}, Priority: m[7][0] - '0'}
	}
	for cause, want := range warden.Matrix {
		if have[cause] != want {
			t.Errorf("row of cause %d is %v in core/causes.c, %v in safety/warden: %s", cause, have[cause], want, follow)
		}
	}
}

// otherName are functions of the specification that have another name in C,
// because C has that word or the function is part of the interface.
var otherName = map[string]string{
	"Init": "warden_init", "Step": "warden_step", "ViewFree": "warden_view_free",
	"MayStroke": "warden_may_stroke", "UnburntLimit": "warden_unburnt_limit",
	"void": "void_start", "while": "count_while", "while32": "count_while32",
	"StepFilter": "warden_step_filter",
}

// onlyC are functions that C needs beside those of the specification.
var onlyC = []string{
	"least", "greatest", "least_signed", "most_signed", // min and max
	"as_signed", "analog_bit", // conversions
	"bytes_of", "set_of", "combine", "latching", // sets of causes by bytes
	"asks",                                                                                        // a request's flag
	"lock_out", "judge", "look_back", "locks", "last_word", "agree", "permitted", "oxygen_proven", // assertion on the outputs
	"burner_phase", "spindle_phase", "target", // a function of 60 lines at most
}

// Every function of the specification is in the C file of the same name.
func TestFunctionsAreTheSpecifications(t *testing.T) {
	where := map[string][]string{}
	for _, s := range core(t) {
		for _, f := range s.functions() {
			if s.isWarden() {
				where[f.name] = append(where[f.name], strings.TrimSuffix(f.file, filepath.Ext(f.file)))
			}
		}
	}
	_, files := specification(t)
	expected := map[string]bool{}
	for name, file := range files {
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			inC, renamed := otherName[f.Name.Name]
			if !renamed {
				inC = snake(f.Name.Name)
			}
			if inC == "" {
				continue
			}
			expected[inC] = true
			home := strings.Replace(name, "report", "step", 1)
			if !slices.Contains(where[inC], home) && !slices.Contains(where[inC], "inside") {
				t.Errorf("%s.go has func %s, core/%s.c has no %s: %s", name, f.Name.Name, home, inC, follow)
			}
		}
	}
	for name, in := range where {
		if !expected[name] && !slices.Contains(onlyC, name) {
			t.Errorf("core/%s.c has %s, safety/warden has no such function: %s", in[0], name, follow)
		}
	}
	if len(expected) < 80 {
		t.Errorf("found only %d functions", len(expected))
	}
}

// A comparison at random may miss a rule that changed a little. So each function
// of the specification has a fingerprint, taken when C was last read against
// it: -update after following the change, not instead.
func TestCFollowsEachFunction(t *testing.T) {
	_, files := specification(t)
	var lines []string
	for name, file := range files {
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				var text strings.Builder
				f.Doc = nil
				if err := printer.Fprint(&text, token.NewFileSet(), f); err != nil {
					t.Fatal(err)
				}
				lines = append(lines, fmt.Sprintf("%s %s %08x\n", name, f.Name.Name, crc32.ChecksumIEEE([]byte(text.String()))))
			}
		}
	}
	slices.Sort(lines)
	const list = "test/followed.txt"
	if *update {
		golden(t, list, strings.Join(lines, ""))
	}
	text, err := os.ReadFile(list)
	if err != nil {
		t.Fatal(err)
	}
	have := strings.SplitAfter(string(text), "\n")
	for _, line := range lines {
		if f := strings.Fields(line); !slices.Contains(have, line) {
			t.Errorf("%s of safety/warden/%s.go is not as C followed it: change core/%s.c, then "+
				"go test ./firmware -update", f[1], f[0], f[0])
		}
	}
}

// The table in crc.c is that of the polynomial.
func TestCRCTable(t *testing.T) {
	text, err := os.ReadFile("core/crc.c")
	if err != nil {
		t.Fatal(err)
	}
	numbers := regexp.MustCompile(`0x([0-9A-F]{8})`).FindAllStringSubmatch(string(text), -1)
	if len(numbers) != 256 {
		t.Fatalf("%d numbers in the table; 256 are wanted", len(numbers))
	}
	table := crc32.MakeTable(crc32.Castagnoli)
	for i, m := range numbers {
		if got, err := strconv.ParseUint(m[1], 16, 32); err != nil || uint32(got) != table[i] {
			t.Errorf("table[%d] is %s; %08X is right", i, m[1], table[i])
		}
	}
}
