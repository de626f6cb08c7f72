package wire

import (
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"

	"pressrig/rig"
	"pressrig/safety/warden"

	"github.com/google/go-cmp/cmp"
)

// configTable is section 7 of PROTOCOL.md as it must read.
func configTable(t *testing.T) string {
	var b strings.Builder
	b.WriteString("| offset | type | field |\n|---|---|---|\n")
	c := reflect.TypeFor[warden.Config]()
	offset := 0
	for i := range c.NumField() {
		f := c.Field(i)
		name := map[reflect.Kind]string{
			reflect.Uint8: "u8", reflect.Uint16: "u16", reflect.Int16: "i16", reflect.Uint32: "u32",
		}[f.Type.Kind()]
		if name == "" {
			t.Fatalf("Config.%s is a %v; the wire knows sized integers only", f.Name, f.Type)
		}
		fmt.Fprintf(&b, "| %d | %s | %s |\n", offset, name, f.Name)
		offset += int(f.Type.Size())
	}
	fmt.Fprintf(&b, "\n%d bytes, %d pieces.\n", offset, ConfigPieces())
	if offset != ConfigBytes() {
		t.Fatalf("fields take %d bytes, ConfigBytes says %d", offset, ConfigBytes())
	}
	return b.String()
}

// The firmware's author reads the order of the fields in PROTOCOL.md; a field
// added to warden.Config must show there.
func TestProtocolListsTheConfiguration(t *testing.T) {
	page, err := os.ReadFile("PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	if want := configTable(t); !strings.Contains(string(page), want) {
		t.Errorf("PROTOCOL.md section 7 must hold this table:\n%s", want)
	}
}

// sampleConfig has another number in every field.
func sampleConfig() warden.Config {
	var c warden.Config
	v := reflect.ValueOf(&c).Elem()
	for i := range v.NumField() {
		f := v.Field(i)
		if f.CanUint() {
			f.SetUint(uint64(0x1101+i*3) & 0xFFFF)
		} else {
			f.SetInt(int64(-5 - i))
		}
	}
	return c
}

func TestConfigRoundTrip(t *testing.T) {
	want := sampleConfig()
	got, err := DecodeConfig(EncodeConfig(&want))
	if err != nil || got != want {
		t.Errorf("got %v, %v\n%s", got, err, cmp.Diff(want, got))
	}
	for _, n := range []int{0, ConfigBytes() - 1, ConfigBytes() + 1} {
		if _, err := DecodeConfig(make([]byte, n)); err == nil {
			t.Errorf("%d bytes were taken for a configuration of %d", n, ConfigBytes())
		}
	}
}

func TestConfigHashSeesEveryField(t *testing.T) {
	base := sampleConfig()
	c := reflect.ValueOf(&base).Elem()
	hash := ConfigHash(base)
	for i := range c.NumField() {
		changed := base
		f := reflect.ValueOf(&changed).Elem().Field(i)
		if f.CanUint() {
			f.SetUint(f.Uint() ^ 1)
		} else {
			f.SetInt(f.Int() ^ 1)
		}
		if ConfigHash(changed) == hash {
			t.Errorf("hash does not see %s", c.Type().Field(i).Name)
		}
	}
}

func TestConfigInPieces(t *testing.T) {
	want := sampleConfig()
	encoded := EncodeConfig(&want)
	var r ConfigReader
	for i := int(ConfigPieces()) - 1; i >= 0; i-- { // any order
		if _, err := r.Config(); err == nil {
			t.Fatal("a configuration with missing pieces was given")
		}
		p, ok := ConfigPiece(encoded, uint8(i))
		if !ok {
			t.Fatalf("no piece %d", i)
		}
		r.Take(&Parameters{Index: p.Index, Count: p.Count + 1, N: p.N}) // another layout
		r.Take(&p)
	}
	got, err := r.Config()
	if err != nil || got != want {
		t.Errorf("got %v, %v", got, err)
	}
	if _, ok := ConfigPiece(encoded, ConfigPieces()); ok {
		t.Error("there is a piece past the last")
	}
}

// Hello's hash covers the scaling: 600 N or 1,200 N at 20 mA is another board,
// and so is another full pulse of the fuel.
func TestBlockHashSeesTheScaling(t *testing.T) {
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	c := p.WardenConfig()
	seen := map[uint32]string{BlockHash(&c, &p.Signals): "as it is"}
	for what, change := range map[string]func(*rig.Signals){
		"force":    func(s *rig.Signals) { s.Loops[warden.AiForce].At20 = 1200 },
		"spindle":  func(s *rig.Signals) { s.Loops[warden.AiSpindle].At4 = 0 },
		"step":     func(s *rig.Signals) { s.Step = 0.02 },
		"set_fuel": func(s *rig.Signals) { s.Full[rig.SetFuel] = 8 },
	} {
		s := p.Signals
		change(&s)
		hash := BlockHash(&c, &s)
		if other, twice := seen[hash]; twice {
			t.Errorf("%s: the same hash as %s", what, other)
		}
		seen[hash] = what
	}
	c.PurgeMs++
	if _, twice := seen[BlockHash(&c, &p.Signals)]; twice {
		t.Error("another purge, the same hash")
	}
}
