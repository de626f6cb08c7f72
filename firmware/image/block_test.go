package image_test

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// layoutOf reads the numbers of block.h, which the compiler reads.
func layoutOf(t *testing.T) map[string]int {
	t.Helper()
	text, err := os.ReadFile("../boards/mega2560/block.h")
	if err != nil {
		t.Fatal(err)
	}
	// What is said elsewhere: how long a configuration is, and how many inputs there are.
	at := map[string]int{"WIRE_CONFIG_BYTES": wire.ConfigBytes(), "NUM_ANALOG": int(warden.NumAnalog)}
	known := len(at)
	for _, m := range regexp.MustCompile(`(?m)^\s*(?:#define )?((?:BLOCK|ANALOG)_[A-Z0-9]+)[ \t]+=?[ \t]*([^,/\n]+)`).FindAllStringSubmatch(string(text), -1) {
		sum := 0
		for _, term := range strings.Split(m[2], "+") {
			product := 1
			for _, word := range strings.Split(term, "*") {
				word = strings.TrimSuffix(strings.TrimSpace(word), "u")
				v, ok := at[word]
				if !ok {
					n, err := strconv.ParseInt(word, 0, 32)
					if err != nil {
						t.Fatal(err)
					}
					v = int(n)
				}
				product *= v
			}
			sum += product
		}
		at[m[1]] = sum
	}
	if len(at)-known != 17 {
		t.Fatalf("block.h: %d numbers were found: %v", len(at)-known, at)
	}
	return at
}

func builtin(t testing.TB, name string) *rig.Profile {
	t.Helper()
	p, err := rig.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// crc32c is CRC-32C bit by bit: polynomial 1EDC6F41 reflected (RFC 3720 B.4
// gives its check value, which drivers/wire tests).
func crc32c(b []byte) uint32 {
	crc := ^uint32(0)
	for _, v := range b {
		crc ^= uint32(v)
		for range 8 {
			crc = crc>>1 ^ 0x82F63B78*(crc&1)
		}
	}
	return ^crc
}

// Every field stands where block.h says and holds what the profile says.
func TestBlockIsLaidOutAsTheBoardReadsIt(t *testing.T) {
	at, p := layoutOf(t), builtin(t, "driven")
	program := []byte("any program, of any length")
	b, err := image.Block(program, p)
	if err != nil {
		t.Fatal(err)
	}
	le := binary.LittleEndian
	c := p.WardenConfig()
	config := wire.EncodeConfig(&c)
	for _, v := range []struct {
		what       string
		have, want any
	}{
		{"length", len(b), at["BLOCK_BYTES"]},
		{"address", image.BlockAddress, at["BLOCK_ADDRESS"]},
		{"magic", string(b[at["BLOCK_MAGIC"]:][:4]), "PRG1"},
		{"device", le.Uint16(b[at["BLOCK_DEVICE"]:]), uint16(1)},
		{"layout", le.Uint16(b[at["BLOCK_LAYOUT"]:]), uint16(2)},
		{"program's length", le.Uint32(b[at["BLOCK_LENGTH"]:]), uint32(len(program))},
		{"program's check", le.Uint32(b[at["BLOCK_PROGRAM"]:]), crc32c(program)},
		{"configuration", string(b[at["BLOCK_CONFIG"]:at["BLOCK_ANALOG"]]), string(config)},
		{"analog inputs", at["BLOCK_SETPOINTS"] - at["BLOCK_ANALOG"], int(warden.NumAnalog) * at["ANALOG_BYTES"]},
		{"set-points", at["BLOCK_CRC"] - at["BLOCK_SETPOINTS"], 4 * rig.NumSetPoints},
		{"check", le.Uint32(b[at["BLOCK_CRC"]:]), crc32c(b[:at["BLOCK_CRC"]])},
	} {
		if v.have != v.want {
			t.Errorf("%s: %v, want %v", v.what, v.have, v.want)
		}
	}
}

// Input reads an analog record as the board computes it.
func input(t *testing.T, b []byte, ai uint8, counts int) (value int, ok bool) {
	t.Helper()
	at, le := layoutOf(t), binary.LittleEndian
	r := b[at["BLOCK_ANALOG"]+at["ANALOG_BYTES"]*int(ai):]
	if counts < int(le.Uint16(r[at["ANALOG_LEAST"]:])) || counts > int(le.Uint16(r[at["ANALOG_MOST"]:])) {
		return 0, false
	}
	away := int64(counts-int(le.Uint16(r[at["ANALOG_ZERO"]:]))) * int64(int32(le.Uint32(r[at["ANALOG_GAIN"]:])))
	if away != int64(int32(away)) {
		t.Errorf("input %d: %d counts overflow 32 bits", ai, counts)
	}
	v := int(int16(le.Uint16(r[at["ANALOG_LOW"]:]))) + int(away>>12)
	if v != int(int16(v)) {
		t.Errorf("input %d: %d counts overflow 16 bits", ai, counts)
	}
	return v, true
}

// 4 mA over 220 ohm are 0.88 V, 20 mA 4.4 V; 10 bits over 5 V (IEC 60381-1 has
// the 4 to 20 mA).
func TestAnalogRecords(t *testing.T) {
	for i, mA := range []float64{3.8, 4, 20, 21} {
		want := []int{rig.LoopLeast, rig.LoopZero, rig.LoopFull, rig.LoopMost}[i]
		if have := mA * 0.220 / 5 * 1024; math.Abs(have-float64(want)) > 1.2 {
			t.Errorf("%v mA are %.1f counts; rig has %d", mA, have, want)
		}
	}
	b, err := image.Block([]byte{1}, builtin(t, "driven"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ai           uint8
		at4, at20    int
		broken, most int
	}{
		{warden.AiGlass, 3000, 12000, 171, 946}, {warden.AiMouldLower, 0, 8000, 171, 946},
		{warden.AiForce, -1500, 6000, 171, 946}, {warden.AiSpindle, -500, 2500, 171, 946},
		{warden.AiFuelFlow, 0, 6000, 171, 946}, {warden.AiOxygenFlow, 0, 23000, 171, 946},
		{warden.AiFuelPressure, 0, 1600, 171, 946}, {warden.AiOxygenPressure, 0, 4000, 171, 946},
	} {
		for counts, want := range map[int]int{180: c.at4, 901: c.at20} {
			if have, ok := input(t, b, c.ai, counts); !ok || have < want-1 || have > want+1 {
				t.Errorf("input %d: %d counts read %d, %v; want %d", c.ai, counts, have, ok, want)
			}
		}
		for _, counts := range []int{0, c.broken, c.most, 1023} {
			if have, ok := input(t, b, c.ai, counts); ok {
				t.Errorf("input %d: %d counts read %d; the wire is broken", c.ai, counts, have)
			}
		}
		for counts := 172; counts <= 945; counts++ {
			if _, ok := input(t, b, c.ai, counts); !ok {
				t.Errorf("input %d: %d counts are broken", c.ai, counts)
			}
		}
	}
	for counts, want := range map[int]int{0: 0, 1: 1, 6200: 6200, 32767: 32767} {
		if have, ok := input(t, b, warden.AiTravel, counts); !ok || have != want {
			t.Errorf("travel: %d counts read %d, %v", counts, have, ok)
		}
	}
	if _, ok := input(t, b, warden.AiTravel, 32768); ok {
		t.Error("a travel that 16 bits cannot carry is not broken")
	}
}

// Full scale is the whole pulse and never more, in the board's 32 bits.
func TestSetPointGains(t *testing.T) {
	at := layoutOf(t)
	for name, full := range map[string][]uint32{
		"driven": {4000, 16000, 2000, 6000, 4000}, "weights": {4000, 16000, 2000, 0, 0}} {
		b, err := image.Block([]byte{1}, builtin(t, name))
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range full {
			gain := binary.LittleEndian.Uint32(b[at["BLOCK_SETPOINTS"]+4*i:])
			steps := uint64(v) * uint64(gain)
			if steps > math.MaxUint32 {
				t.Errorf("%s %d overflows", name, i)
			}
			if steps >>= 16; v > 0 && (steps < 15999 || steps > 16000) || v == 0 && gain != 0 {
				t.Errorf("%s: set-point %d at %d: %d steps, gain %d", name, i, v, steps, gain)
			}
		}
	}
}

func TestBlockRefuses(t *testing.T) {
	bare, err := rig.ParseProfile("bare.yaml", []byte("rig: bare\naxis: vertical\nboard: false\nthermometer: {fitted: false}\n"))
	if err != nil {
		t.Fatal(err)
	}
	mute := *builtin(t, "driven")
	mute.Signals = rig.Signals{}
	for _, c := range []struct {
		program []byte
		rig     *rig.Profile
		want    string
	}{
		{nil, builtin(t, "driven"), "the program is empty"},
		{make([]byte, image.BlockAddress+1), builtin(t, "driven"), "at most 65024 end below the block"},
		{[]byte{1}, bare, "has no board"},
		{[]byte{1}, &mute, "says nothing under signals"},
	} {
		if _, err := image.Fit(c.program, c.rig); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v; want %q", err, c.want)
		}
	}
}

func TestFitPutsTheBlockBesideTheProgram(t *testing.T) {
	program := []byte{0x0C, 0x94, 0x72, 0x00}
	s, err := image.Fit(program, builtin(t, "weights"))
	if err != nil {
		t.Fatal(err)
	}
	back, err := image.ReadHex(image.WriteHex(s...))
	if err != nil || len(back) != 2 || string(back[0].Bytes) != string(program) || back[1].Address != 0xFE00 {
		t.Errorf("%+v, %v", back, err)
	}
}

func TestProgramRefuses(t *testing.T) {
	sum := func(text []byte) string { return fmt.Sprintf("%x\n", sha256.Sum256(text)) }
	good := image.WriteHex(image.Segment{Bytes: []byte{1, 2, 3}})
	if b, err := image.Program(good, sum(good)); err != nil || string(b) != "\x01\x02\x03" {
		t.Errorf("%v, %v", b, err)
	}
	if _, err := image.Program(nil, ""); !errors.Is(err, image.ErrNoImage) {
		t.Errorf("no image: %v", err)
	}
	away := image.WriteHex(image.Segment{Address: 2, Bytes: []byte{1}})
	long := image.WriteHex(image.Segment{Bytes: make([]byte, image.BlockAddress+1)})
	for _, c := range []struct {
		text []byte
		sum  string
		want string
	}{
		{good, sum(away), "is wanted"}, {good, "", "is wanted"},
		{[]byte("x"), sum([]byte("x")), "line 1"},
		{away, sum(away), "not one piece from address 0"}, {long, sum(long), "not one piece from address 0"},
	} {
		if _, err := image.Program(c.text, c.sum); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v; want %q", err, c.want)
		}
	}
}
