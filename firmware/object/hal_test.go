//go:build object

package object_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"unsafe"

	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/firmware/object"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// keep steps until the byte is kept.
func keep(t *testing.T, s *object.Store, want uint8) {
	t.Helper()
	for range 1000 {
		if s.Holds(want) {
			return
		}
		s.Step(want)
	}
	t.Fatalf("byte %02x is not kept", want)
}

// The warden's byte (NV_ in core/warden.h). Any but the first locks it out, the
// store's 0 for memory that it cannot trust among them.
const (
	nvClear   = 0x5A
	nvRunning = 0x3C
	nvLockout = 0xA5
)

// Power may go at each write of a record, at any age of the memory, and leave
// anything in the cell under way: the next start reads the byte of before, the
// new one, or one that locks out; never an older one that would not, and never
// an older boot number.
func TestPowerCutAtEveryWrite(t *testing.T) {
	for _, c := range []struct{ older, old, new uint8 }{{nvClear, nvLockout, nvRunning}, {nvRunning, nvClear, nvLockout},
		{nvClear, nvRunning, nvClear}} {
		for _, age := range []int{0, 1, 2, object.StoreSlots - 2, object.StoreSlots - 1, object.StoreSlots, 2*object.StoreSlots + 7} {
			for cut := range object.StoreRecord + 1 {
				object.NewCells()
				s := object.OpenStore(c.old)
				for i := range age {
					keep(t, s, []uint8{c.older, c.old}[i%2])
				}
				keep(t, s, c.old)
				before := bytes.Clone(object.Cells)
				for torn := range 256 {
					copy(object.Cells, before)
					cutOnce(t, c.old, c.new, cut, uint8(torn))
				}
			}
		}
	}
}

// cutOnce writes one record, loses power on the way, and starts again.
func cutOnce(t *testing.T, old, new uint8, cut int, torn uint8) {
	t.Helper()
	s := object.OpenStore(old)
	boots := s.Boots()
	object.CutAfter(cut, torn)
	for range 40 {
		s.Step(new)
	}
	if cut < object.StoreRecord && !object.PowerGone() {
		t.Fatalf("cut %d: nothing was lost", cut)
	}
	object.CutAfter(math.MaxInt32, 0)
	again := object.OpenStore(old)
	got, whole := again.Byte(), cut == object.StoreRecord
	locks := got != nvClear
	switch {
	case whole && got != new:
		t.Fatalf("%02x to %02x: a whole record is forgotten: %02x", old, new, got)
	case !locks && old != nvClear && new != nvClear:
		t.Fatalf("%02x to %02x, cut at write %d with %02x: byte %02x", old, new, cut, torn, got)
	case got == old && again.Boots() != boots:
		t.Fatalf("%02x to %02x, cut at write %d with %02x: boots %d, were %d", old, new, cut, torn, again.Boots(), boots)
	}
	keep(t, again, new) // and it goes on
	if third := object.OpenStore(old); third.Byte() != new {
		t.Fatalf("%02x to %02x, cut at write %d with %02x: after going on the byte is %02x", old, new, cut, torn, third.Byte())
	}
}

// A record that was begun and not ended is unreadable, so that the warden locks
// out: only a cut before the first changed cell may read as before.
func TestTornNewestRecordIsUnreadable(t *testing.T) {
	for cut := 1; cut < object.StoreRecord; cut++ {
		object.NewCells()
		s := object.OpenStore(nvClear)
		keep(t, s, nvRunning)
		keep(t, s, nvClear)
		object.CutAfter(cut, 0xFF)
		for range 40 {
			s.Step(nvLockout)
		}
		object.CutAfter(math.MaxInt32, 0)
		if got := object.OpenStore(nvClear).Byte(); got == nvClear {
			t.Errorf("cut after %d of %d cells: byte %02x", cut, object.StoreRecord, got)
		}
	}
}

// Wear is even: after many records no cell was written more than once oftener
// than another. 100,000 writes a cell (ATmega2560 data sheet, from memory) are
// then 51 million records.
func TestWearIsEven(t *testing.T) {
	object.NewCells()
	s := object.OpenStore(0x5A)
	const records = 5*object.StoreSlots + 3
	for i := range records {
		keep(t, s, uint8(0x10+i%2))
	}
	least, most := uint32(math.MaxUint32), uint32(0)
	for _, n := range object.Writes {
		least, most = min(least, n), max(most, n)
	}
	if most-least > 1 || most != records/object.StoreSlots+1 {
		t.Errorf("%d records wrote the cells %d to %d times", records, least, most)
	}
	t.Logf("life at 100,000 writes a cell: %d million records", 100_000*object.StoreSlots/1_000_000)
}

// The boot number grows by one a start, over any cut, and a write that is under
// way is never disturbed.
func TestBootsGrow(t *testing.T) {
	object.NewCells()
	object.Busy(3)
	rnd := rand.New(rand.NewPCG(1, 2))
	last := uint32(0)
	for range 500 {
		s := object.OpenStore(0x5A)
		if s.Boots() < last {
			t.Fatalf("boots %d after %d", s.Boots(), last)
		}
		s.CountBoot()
		if rnd.IntN(3) == 0 {
			object.CutAfter(rnd.IntN(object.StoreRecord), uint8(rnd.Uint32()))
		}
		for range 100 {
			s.Step(s.Byte())
		}
		object.CutAfter(math.MaxInt32, 0)
		if s.Failures() == 0 && s.Boots() != last+1 && !object.PowerGone() {
			t.Fatalf("boots %d, want %d", s.Boots(), last+1)
		}
		last = object.OpenStore(0x5A).Boots()
	}
	if last < 200 {
		t.Errorf("only %d starts were counted", last)
	}
}

// A cell that keeps nothing any more does not lose the byte: the next records
// go past it, and the failure is counted.
func TestDeadCell(t *testing.T) {
	object.NewCells()
	s := object.OpenStore(0x5A)
	keep(t, s, 0x11)
	object.CutAfter(3, 0x77) // the fourth write fails, and all later ones
	for range 30 {
		s.Step(0x22)
	}
	object.CutAfter(math.MaxInt32, 0)
	if s.Failures() == 0 || s.Byte() == 0x22 {
		t.Errorf("%d failures, byte %02x", s.Failures(), s.Byte())
	}
	keep(t, s, 0x22)
	if again := object.OpenStore(0x5A); again.Byte() != 0x22 {
		t.Errorf("byte %02x after a dead cell", again.Byte())
	}
}

func block(t *testing.T, name string) ([]byte, *rig.Profile) {
	t.Helper()
	p, err := rig.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	b, err := image.Block([]byte("any program"), p)
	if err != nil {
		t.Fatal(err)
	}
	return b, p
}

// What the board reads of the block is what was put in, every converter count
// is the value that the transmitter's range says, within one unit, and a broken
// wire is never intact.
func TestFittingReadsTheBlock(t *testing.T) {
	for _, name := range []string{"driven", "weights", "no-thermometer"} {
		b, p := block(t, name)
		f, ok := object.ReadFitting(b)
		if !ok {
			t.Fatalf("%s: refused", name)
		}
		if f.Device() != p.Device || f.Length() != 11 || f.Program() != image.BuildHash([]byte("any program")) {
			t.Errorf("%s: device %d, length %d, program %08x", name, f.Device(), f.Length(), f.Program())
		}
		if got, want := *(*warden.Config)(f.Config()), p.WardenConfig(); got != want {
			t.Errorf("%s: %v", name, wire.ConfigDiffers(&got, &want))
		}
		for ai, l := range p.Signals.Loops {
			if l == (rig.Loop{}) {
				continue
			}
			for counts := range int32(1024) {
				intact := counts >= 172 && counts <= 945 // 3.8 and 21 mA over 220 ohm at 5 V, 10 bits
				if f.Intact(ai, counts) != intact {
					t.Fatalf("%s: %s at %d counts: intact %v", name, rig.Analogs[ai].Name, counts, !intact)
				}
				if !intact {
					continue
				}
				want := (l.At4 + (l.At20-l.At4)*float64(counts-180)/721) / rig.Analogs[ai].Scale
				if got := float64(f.Value(ai, uint16(counts))); math.Abs(got-want) > 1.5 {
					t.Fatalf("%s: %s at %d counts is %v, want %.2f", name, rig.Analogs[ai].Name, counts, got, want)
				}
			}
		}
	}
}

// Of every scaling that a block may have the value is the exact one, rounded down
// and held within 16 bits: of the converter at each of its counts, of the encoder
// at any.
func TestValueOfEveryScaling(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 12))
	any16 := func() uint16 {
		return []uint16{0, 1, 0x7FFF, 0x8000, 0xFFFF, uint16(rnd.Uint32()), uint16(rnd.Uint32())}[rnd.IntN(7)]
	}
	within := func(v int64) int64 { return min(math.MaxInt16, max(math.MinInt16, v)) }
	gainUpTo := func(most int32) int32 {
		return []int32{most, -most, 0, 1, -1, rnd.Int32N(2*most+1) - most}[rnd.IntN(6)] * 16
	}
	for range 500000 {
		zero, low, counts := uint16(rnd.IntN(1024)), int16(any16()), uint16(rnd.IntN(1024))
		gain := gainUpTo(1 << 17)
		want := within(int64(low) + (int64(counts)-int64(zero))*int64(gain)>>16)
		if got := object.Value(zero, low, gain, counts); int64(got) != want {
			t.Fatalf("zero %d, low %d, gain %d, counts %d: %d, want %d", zero, low, gain, counts, got, want)
		}
		zero, gain = any16(), gainUpTo(0x7FFF)
		edges := int16(any16())
		want = within(int64(low) + within(int64(edges)-int64(zero))*int64(gain)>>16)
		if got := object.Travel(zero, low, gain, edges); int64(got) != want {
			t.Fatalf("zero %d, low %d, gain %d, encoder at %d: %d, want %d", zero, low, gain, edges, got, want)
		}
	}
}

// A scaling with which the numbers would not fit is refused, whatever its
// checksum says.
func TestFittingRefusesWhatDoesNotFit(t *testing.T) {
	for _, c := range []struct {
		ai       uint8
		at, size int
		v        int64
		ok       bool
	}{
		{0, 4, 2, 1023, true}, {0, 4, 2, 1024, false}, {0, 8, 4, 1 << 17, true}, {0, 8, 4, 1<<17 + 1, false},
		{0, 8, 4, -1 << 17, true}, {0, 8, 4, -1<<17 - 1, false},
		{warden.AiTravel, 4, 2, 65535, true}, {warden.AiTravel, 8, 4, 0x7FFF, true}, {warden.AiTravel, 8, 4, 0x8000, false},
		{warden.AiTravel, 8, 4, -0x7FFF, true}, {warden.AiTravel, 8, 4, -0x8000, false},
	} {
		b, _ := block(t, "driven")
		for i := range c.size {
			b[image.BlockAnalog+rig.AnalogBytes*int(c.ai)+c.at+i] = byte(c.v >> (8 * i))
		}
		binary.LittleEndian.PutUint32(b[len(b)-4:], image.BuildHash(b[:len(b)-4]))
		if _, ok := object.ReadFitting(b); ok != c.ok {
			t.Errorf("%+v: taken %v", c, ok)
		}
	}
}

// Every flipped bit of the block, and every other length or layout, is refused.
func TestFittingRefusesEveryFlippedBit(t *testing.T) {
	b, _ := block(t, "driven")
	for i := range b {
		for bit := range 8 {
			bad := bytes.Clone(b)
			bad[i] ^= 1 << bit
			if f, ok := object.ReadFitting(bad); ok || f.Device() != 0 {
				t.Fatalf("byte %d, bit %d is taken", i, bit)
			}
		}
	}
	for _, blank := range []byte{0x00, 0xFF} {
		if _, ok := object.ReadFitting(bytes.Repeat([]byte{blank}, image.BlockBytes)); ok {
			t.Errorf("flash of %02x is taken", blank)
		}
	}
}

// A set-point's pulse never exceeds its full width and grows with the value.
func TestPulseOfEveryValue(t *testing.T) {
	b, p := block(t, "driven")
	f, _ := object.ReadFitting(b)
	for i, full := range p.Signals.Full {
		most := math.Round(full / rig.SetPoints[i].Scale)
		last := uint16(0)
		for v := range uint32(math.MaxUint16 + 1) {
			got := f.Steps(i, uint16(v))
			want := math.Min(16000, 16000*float64(v)/most)
			if got < last || got > 16000 || float64(v) <= most && math.Abs(float64(got)-want) > 1.01 {
				t.Fatalf("%s of %d: %d steps, want %.1f, before %d", rig.SetPoints[i].Name, v, got, want, last)
			}
			last = got
		}
	}
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 200000 {
		gain, v := rnd.Uint32(), uint16(rnd.Uint32())
		want := min(16000, uint64(gain)*uint64(v)>>16)
		if got := object.Steps(gain, v); uint64(got) != want {
			t.Fatalf("gain %d, value %d: %d steps, want %d", gain, v, got, want)
		}
	}
}

// limits_hold and safety.CheckConfig judge alike, at every limit and one beside
// it, and over random configurations.
func TestLimitsEqualTheSafetyChecks(t *testing.T) {
	good, _ := rig.Builtin("driven")
	start := good.WardenConfig()
	verdict := func(c *warden.Config) (goOK, cOK bool) {
		return safety.CheckConfig(c) == nil, object.LimitsHold(unsafe.Pointer(c))
	}
	if a, b := verdict(&start); !a || !b {
		t.Fatalf("the built-in configuration: %v in Go, %v in C", a, b)
	}
	encoded := wire.EncodeConfig(&start)
	edges := []uint32{0, 1, 99, 100, 101, 199, 200, 201, 400, 401, 499, 500, 501, 799, 800, 801, 999, 1000, 1001, 1999, 2000, 2001,
		2999, 3000, 3001, 3999, 4000, 4001, 4999, 5000, 5001, 29999, 30000, 30001, 32767, 32768, 59999, 60000, 60001, 65535,
		119999, 120000, 120001, 1799999, 1800000, 1800001, math.MaxUint32}
	refused := 0
	try := func(b []byte) {
		c, err := wire.DecodeConfig(b)
		if err != nil {
			t.Fatal(err)
		}
		inGo, inC := verdict(&c)
		if inGo != inC {
			t.Fatalf("%+v: %v in Go (%v), %v in C", c, inGo, safety.CheckConfig(&c), inC)
		}
		if !inGo {
			refused++
		}
	}
	for at := range len(encoded) - 3 {
		for _, e := range edges {
			for size := 1; size <= 4; size++ {
				b := bytes.Clone(encoded)
				for i := range size {
					b[at+i] = byte(e >> (8 * i))
				}
				try(b)
			}
		}
	}
	rnd := rand.New(rand.NewPCG(5, 6))
	for range 300000 {
		b := bytes.Clone(encoded)
		for range 1 + rnd.IntN(3) {
			b[rnd.IntN(len(b))] = byte(rnd.Uint32())
		}
		try(b)
	}
	if refused < 10000 {
		t.Errorf("only %d were refused", refused)
	}
}

// The drive is asked for no more than the warden's speed, 50 a second times the
// way left and a lean of 0.1 mm. Where travel is not known it never closes, and
// opens at no more than 10 mm/s, the most of hold-to-run.
func TestStrokeSpeed(t *testing.T) {
	edges := []int16{math.MinInt16, -6001, -10, -1, 0, 1, 9, 10, 11, 100, 5990, 6000, 6001, math.MaxInt16}
	for _, bits := range []uint16{0, warden.OutPressClose, warden.OutPressOpen, warden.OutBrake} {
		for _, target := range edges {
			for _, travel := range edges {
				for _, asked := range []uint16{0, 1, 499, 500, 501, 6000, math.MaxUint16} {
					out := warden.Output{Bits: bits, TravelCmm: target, SpeedCmms: asked}
					left := int64(0)
					switch bits {
					case warden.OutPressClose:
						left = int64(target) - int64(travel) + 10
					case warden.OutPressOpen:
						left = int64(travel) - int64(target) + 10
					}
					want := max(0, min(int64(asked), 50*left))
					if got := object.StrokeSpeed(unsafe.Pointer(&out), travel, true); int64(got) != want {
						t.Fatalf("bits %x, from %d to %d at %d: %d, want %d", bits, travel, target, asked, got, want)
					}
					blind := uint16(0)
					if bits == warden.OutPressOpen {
						blind = min(asked, 1000)
					}
					if got := object.StrokeSpeed(unsafe.Pointer(&out), travel, false); got != blind {
						t.Fatalf("travel unknown, bits %x at %d: %d, want %d", bits, asked, got, blind)
					}
				}
			}
		}
	}
}

// gray is the order of a quadrature encoder's tracks while the press closes: A
// (bit 0) leads B (bit 1).
var gray = [4]uint8{0, 1, 3, 2}

// All sixteen changes: one forward, one back, standing, and both at once, which
// is a lost count.
func TestEncoderCountsEveryChange(t *testing.T) {
	for from := range 4 {
		for to := range 4 {
			e := object.NewEncoder(gray[from])
			e.Step(gray[to])
			want, lost := int16(0), uint8(0)
			switch (to - from + 4) % 4 {
			case 1:
				want = 1
			case 2:
				lost = 1
			case 3:
				want = -1
			}
			if e.Counts() != want || e.Skipped() != lost {
				t.Errorf("from %d to %d: %d counts, %d lost; want %d and %d", from, to, e.Counts(), e.Skipped(), want, lost)
			}
		}
	}
	rnd := rand.New(rand.NewPCG(7, 8))
	e, at := object.NewEncoder(0), 0
	for range 100000 {
		at += rnd.IntN(3) - 1
		e.Step(gray[at&3] | uint8(rnd.Uint32())&0xFC) // other pins of the port change too
		if int(e.Counts()) != at || e.Skipped() != 0 {
			t.Fatalf("%d counts, %d lost, at %d", e.Counts(), e.Skipped(), at)
		}
	}
	for _, end := range []struct {
		n    int16
		step uint8
	}{{math.MaxInt16, gray[1]}, {math.MinInt16, gray[3]}} {
		e := object.NewEncoder(0)
		e.SetCounts(end.n)
		if e.Step(end.step); e.Counts() != end.n {
			t.Errorf("past the end: %d", e.Counts())
		}
	}
}

// way moves a press with an encoder of 0.01 mm a count and its open switch at
// 1 mm, one millisecond a step, and says what homing makes of it.
type way struct {
	h    object.Homing
	e    *object.Encoder
	at   int // true travel, 0.01 mm
	slip int // what the counts have lost or gained
	late int // milliseconds that the switch takes
	seen []bool
	ok   bool
}

const openCmm = 100

func newWay(at int) *way {
	w := &way{e: object.NewEncoder(0), at: at, slip: -at}
	w.step(0)
	return w
}

// step moves by so much in a millisecond.
func (w *way) step(by int) {
	w.at += by
	w.seen = append(w.seen, w.at <= openCmm)
	open := w.seen[max(0, len(w.seen)-1-w.late)]
	w.ok = w.h.Step(w.e, open, int16(w.at+w.slip), openCmm)
}

// to moves there at so many 0.01 mm a millisecond, and rests for 30 ms. It gives
// the milliseconds in which travel was not believed, the first of them, and how
// far it was wrong at most while it was believed.
func (w *way) to(at, speed int) (unsure, wrong int) {
	look := func() {
		if !w.ok {
			unsure++
		} else if off := int(w.h.TravelCmm()) - w.at; off > wrong || -off > wrong {
			wrong = max(off, -off)
		}
	}
	for w.at != at {
		w.step(max(-speed, min(speed, at-w.at)))
		look()
	}
	for range 30 {
		w.step(0)
		look()
	}
	return unsure, wrong
}

// Travel is what it truly is once the switch was passed, wherever the press
// rested at power-up; before that a press on its switch counts as at its stop.
func TestHoming(t *testing.T) {
	for _, rest := range []int{0, 40, 95, 100} {
		w := newWay(rest)
		if !w.ok || w.h.TravelCmm() != 0 {
			t.Errorf("resting at %d: believed %v, %d; 0 is right till the switch is passed", rest, w.ok, w.h.TravelCmm())
		}
		if w.to(3000, 6); !w.ok || abs(int(w.h.TravelCmm())-w.at) > 20 {
			t.Errorf("resting at %d, driven to %d: believed %v, %d", rest, w.at, w.ok, w.h.TravelCmm())
		}
		for range 20 {
			if unsure, wrong := w.to(50, 6); unsure != 0 || wrong > 20 {
				t.Errorf("resting at %d, opened: not believed for %d ms, wrong by %d", rest, unsure, wrong)
			}
			if unsure, wrong := w.to(3000, 6); unsure != 0 || wrong > 20 {
				t.Errorf("resting at %d, closed: not believed for %d ms, wrong by %d", rest, unsure, wrong)
			}
		}
	}
	w := newWay(4000)
	if w.to(3000, 6); w.ok || w.h.Known() {
		t.Error("believed before the switch was seen")
	}
	if w.to(60, 6); !w.ok || abs(int(w.h.TravelCmm())-w.at) > 10 {
		t.Errorf("homed from the middle: believed %v, %d at %d", w.ok, w.h.TravelCmm(), w.at)
	}
	e := object.NewEncoder(0)
	var h object.Homing
	h.Step(e, true, 0, openCmm)
	e.Step(3) // both tracks at once
	if h.Step(e, false, 10, openCmm) {
		t.Error("believed after a lost count")
	}
	for _, open := range []bool{false, true, false, true} {
		if h.Step(e, open, 100, openCmm) || !h.Failed() {
			t.Error("homed again with a lost count standing")
		}
	}
}

func abs(n int) int { return max(n, -n) }

// The switch is looked at both ways: made where travel says that it cannot be,
// and not made where travel says open. Beyond 0.5 mm travel is not believed any
// more until power is gone; the millisecond-by-millisecond allowance is 20.
func TestHomingFindsSlip(t *testing.T) {
	for _, c := range []struct {
		name  string
		slip  int
		fails bool
	}{
		{"none", 0, false}, {"0.15 mm long", 15, false}, {"0.15 mm short", -15, false},
		{"0.4 mm long", 40, false}, {"0.4 mm short", -40, false},
		{"0.6 mm long", 60, true}, {"0.6 mm short", -60, true},
		{"20 mm long", 2000, true}, {"20 mm short", -2000, true},
	} {
		w := newWay(0)
		w.to(3000, 6)
		w.slip += c.slip
		unsure, _ := w.to(50, 6)
		if w.h.Failed() != c.fails || w.ok == c.fails {
			t.Errorf("%s: believed %v, failed for good %v", c.name, w.ok, w.h.Failed())
		}
		if !c.fails && (unsure > 1 || abs(int(w.h.TravelCmm())-w.at) > 20) {
			t.Errorf("%s: not believed for %d ms, then %d at %d", c.name, unsure, w.h.TravelCmm(), w.at)
		}
		if c.fails {
			w.slip -= c.slip
			w.to(3000, 6)
			if w.to(50, 6); w.ok {
				t.Errorf("%s: homed again without power gone", c.name)
			}
		}
	}
	w := newWay(0) // short by 20 mm: doubted on the way, long before the switch
	w.to(3000, 6)
	w.slip -= 2000
	for w.at > 1500 && w.h.Known() {
		w.step(-6)
	}
	if w.at < 2050-21*6 || w.at > 2050 {
		t.Errorf("short by 20 mm: found at %.2f mm; travel says open 0.5 mm beyond the switch at 20.50 mm", float64(w.at)/100)
	}
	w = newWay(0) // the switch sticks
	w.to(3000, 6)
	w.to(50, 6)
	ms := 0
	for ; w.ok && ms < 1000; ms++ {
		w.at += 3
		w.ok = w.h.Step(w.e, true, int16(w.at+w.slip), openCmm)
	}
	if !w.h.Failed() || w.at > openCmm+50+21*3 {
		t.Errorf("switch stuck made: doubted at %d", w.at)
	}
}

// Two corrections are dirt, the third since power-up is a fault. What is found
// the first time the switch is passed is none, nor is a slip that needs none.
func TestHomingCountsCorrections(t *testing.T) {
	for _, slip := range []int{30, -30} {
		w := newWay(95)
		w.to(3000, 6)
		w.to(50, 6)
		for n := 1; n <= 3; n++ {
			w.to(3000, 6)
			w.slip += slip
			if w.to(50, 6); w.h.Failed() != (n == 3) {
				t.Errorf("%d: correction %d: failed %v", slip, n, w.h.Failed())
			}
		}
	}
	w := newWay(0)
	for range 50 {
		w.to(3000, 6)
		w.slip += 10
		w.to(50, 6)
		w.to(3000, 6)
		w.slip -= 10
		if w.to(50, 6); w.h.Failed() {
			t.Fatal("failed by slips of a tenth that cancel out")
		}
	}
	w = newWay(0) // what adds up is corrected whenever it is over 0.2 mm
	w.to(3000, 6)
	w.to(50, 6)
	n := 0
	for ; !w.h.Failed() && n < 20; n++ {
		w.to(3000, 6)
		w.slip -= 10
		w.to(50, 6)
	}
	if n < 6 || n > 9 {
		t.Errorf("0.1 mm a stroke failed after %d strokes; three corrections of 0.2 to 0.3 mm", n)
	}
}

// A lever pulled faster than the place of the switch can be told, with a contact
// that comes 3 ms late, and a contact that bounces for 2 ms, spoil nothing; nor
// does one that opens 0.3 mm after it has closed.
func TestHomingIsFairToContacts(t *testing.T) {
	w := newWay(0)
	w.late = 3
	for range 20 {
		w.to(3000, 40)
		if unsure, wrong := w.to(0, 40); w.h.Failed() || unsure > 1 || wrong > 20 {
			t.Fatalf("pulled at 400 mm/s: failed %v, %d ms not believed, wrong by %d", w.h.Failed(), unsure, wrong)
		}
	}
	w = newWay(0)
	w.late = 1
	rnd := rand.New(rand.NewPCG(9, 9))
	for range 20 {
		for at := openCmm + 60; at > openCmm-60; at -= 6 {
			w.at = at
			open := at <= openCmm && (at < openCmm-12 || rnd.IntN(2) == 0)
			w.ok = w.h.Step(w.e, open, int16(w.at+w.slip), openCmm)
		}
		for at := openCmm - 60; at < openCmm+60; at += 6 {
			w.at = at
			open := at <= openCmm || (at < openCmm+12 && rnd.IntN(2) == 0)
			w.ok = w.h.Step(w.e, open, int16(w.at+w.slip), openCmm)
		}
		if w.h.Failed() {
			t.Fatal("failed by a contact that bounces")
		}
	}
	w = newWay(0)
	for range 20 {
		for _, by := range []int{6, -6} {
			for ; w.at+by >= 40 && w.at+by <= 400; w.at += by {
				open := w.at <= openCmm+15+5*by/2 // 0.3 mm later on the way out
				w.ok = w.h.Step(w.e, open, int16(w.at+w.slip), openCmm)
			}
		}
		if w.h.Failed() {
			t.Fatal("failed by the switch's own travel")
		}
	}
}

// Whatever counts, switch and place come, travel that failed is not believed,
// and numbers at the ends of their types do no harm.
func TestHomingAtTheEndsOfItsNumbers(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 1))
	any16 := func() int16 {
		return []int16{math.MinInt16, math.MaxInt16, 0, 100, -100, int16(rnd.Uint32())}[rnd.IntN(6)]
	}
	for range 2000 {
		var h object.Homing
		e := object.NewEncoder(0)
		place, failed := any16(), false
		for range 100 {
			e.SetCounts(any16())
			h.Watch(e, rnd.IntN(2) == 0)
			ok := h.Step(e, rnd.IntN(3) != 0, any16(), place)
			if failed = failed || h.Failed(); failed && (ok || h.Known()) {
				t.Fatal("believed after it had failed")
			}
		}
	}
}

// Counts are due from a closing drive alone, at 2 mm/s and more, farther than
// 1 mm from its target.
func TestStrokeMustCount(t *testing.T) {
	for _, c := range []struct {
		bits   uint16
		target int16
		speed  uint16
		travel int16
		want   bool
	}{
		{warden.OutPressClose, 1000, 200, 899, true},
		{warden.OutPressClose, 1000, 199, 899, false},
		{warden.OutPressClose, 1000, 200, 900, false},
		{warden.OutPressClose, 1000, 6000, 1500, false},
		{warden.OutPressClose, math.MaxInt16, 6000, math.MinInt16, true},
		{warden.OutPressOpen, 1000, 6000, 0, false},
		{warden.OutBrake, 1000, 6000, 0, false},
	} {
		out := warden.Output{Bits: c.bits, TravelCmm: c.target}
		if got := object.StrokeMustCount(unsafe.Pointer(&out), c.speed, c.travel); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// Of a drive that must count, travel is believed for 200 ms without 2 counts one
// way, and not after it. What moves, or need not, is never doubted.
func TestHomingWatchesADrive(t *testing.T) {
	homed := func() (*object.Homing, *object.Encoder) {
		h, e := &object.Homing{}, object.NewEncoder(0)
		h.Step(e, true, 0, 100)
		h.Step(e, false, 0, 100)
		return h, e
	}
	for _, c := range []struct {
		name   string
		track  func(ms int) uint8
		must   func(ms int) bool
		doubts int // after how many ms, 0: never
	}{
		{"both tracks dead", func(int) uint8 { return 0 }, func(int) bool { return true }, 200},
		{"A alone turns", func(ms int) uint8 { return uint8(ms) & 1 }, func(int) bool { return true }, 200},
		{"B alone turns", func(ms int) uint8 { return uint8(ms) & 1 << 1 }, func(int) bool { return true }, 200},
		{"it counts, and then no more", func(ms int) uint8 { return gray[min(ms, 50)&3] }, func(int) bool { return true }, 250},
		{"two counts in 200 ms", func(ms int) uint8 { return gray[ms/100&3] }, func(int) bool { return true }, 0},
		{"two counts back in 200 ms", func(ms int) uint8 { return gray[-(ms/100)&3] }, func(int) bool { return true }, 0},
		{"it stands, and may", func(int) uint8 { return 0 }, func(int) bool { return false }, 0},
		{"asked for 199 ms, again and again", func(int) uint8 { return 0 }, func(ms int) bool { return ms%200 != 0 }, 0},
	} {
		h, e := homed()
		doubted := 0
		for ms := 1; ms <= 2000 && doubted == 0; ms++ {
			e.Step(c.track(ms))
			if h.Watch(e, c.must(ms)); !h.Known() {
				doubted = ms
			}
		}
		if doubted != c.doubts {
			t.Errorf("%s: doubted after %d ms; %d", c.name, doubted, c.doubts)
		}
	}
	h, e := homed()
	for range 200 {
		h.Watch(e, true)
	}
	if h.Step(e, false, 0, 100); h.Known() {
		t.Error("believed again before it was opened")
	}
	if h.Step(e, true, 0, 100); !h.Known() {
		t.Error("not homed at the switch")
	}
	for _, ends := range []int16{math.MinInt16, math.MaxInt16} { // the difference takes more than 16 bits
		h, e := homed()
		e.SetCounts(-ends - 1)
		h.Watch(e, true)
		e.SetCounts(ends)
		if h.Watch(e, true); !h.Known() {
			t.Error("doubted after the longest way")
		}
	}
}

// heard decodes what the board said.
func heard(t *testing.T, line []byte) *wire.Frame {
	t.Helper()
	raw := bytes.Trim(line, "\x00")
	f := &wire.Frame{}
	if v := wire.Decode(raw, wire.FromMCU, f); v != wire.Accepted {
		t.Fatalf("said % x: verdict %d", line, v)
	}
	return f
}

// Without a pair only hello; with one hello first, then a piece, then events no
// closer than 100 ms; eight events wait, a ninth replaces the newest.
func TestSpeakerKeepsOrderAndPace(t *testing.T) {
	c := warden.Config{}
	config := unsafe.Pointer(&c)
	s := object.NewSpeaker(7, 9, "mega2560 test")
	for i := range uint32(10) {
		s.Tell(uint16(wire.EventTrip), i, i)
	}
	if f := heard(t, s.Other(0, 0, config)); f.Class != wire.ClassHello || f.Device != 7 || f.MCUSession != 9 ||
		f.HostSession != 0 || f.Capabilities().Firmware != "mega2560 test" {
		t.Errorf("first %+v", f.Header)
	}
	for ms := range uint32(50) {
		if line := s.Other(0, ms, config); line != nil {
			t.Fatalf("without a pair: % x", line)
		}
	}
	s.AskPiece(2)
	if f := heard(t, s.Other(5, 100, config)); f.Class != wire.ClassParameters || f.Parameters.Index != 2 {
		t.Errorf("then %+v", f.Header)
	}
	s.AskPiece(200)
	if line := s.Other(5, 100, config); line != nil {
		t.Errorf("a piece that does not exist: % x", line)
	}
	var told []uint32
	last := uint32(0)
	for ms := uint32(1000); ms < 3000; ms++ {
		line := s.Other(5, ms, config)
		if line == nil {
			continue
		}
		f := heard(t, line)
		if f.Class != wire.ClassEvent || last != 0 && ms-last < 100 || f.Event.StampMs != f.Event.Value {
			t.Fatalf("at %d ms: %+v, the one before at %d", ms, f.Event, last)
		}
		told, last = append(told, f.Event.Value), ms
	}
	want := []uint32{0, 1, 2, 3, 4, 5, 6, 9}
	if !slices.Equal(told, want) {
		t.Errorf("events %v, want %v", told, want)
	}
}

// Times in a snapshot are tenths of what the warden counts, rounded down, at
// most what the field holds.
func TestSpeakerTenths(t *testing.T) {
	s := object.NewSpeaker(7, 9, "")
	check := func(phase uint32, lease uint16) {
		f := heard(t, s.Snapshot(5, 77, phase, lease))
		if want := min(phase/10, math.MaxUint16); uint32(f.Snapshot.PhaseCs) != want || f.Snapshot.StampMs != 77 {
			t.Fatalf("phase %d ms is %d cs, want %d", phase, f.Snapshot.PhaseCs, want)
		}
		if want := min(lease/10, math.MaxUint8); uint16(f.Snapshot.LeaseCs[0]) != want {
			t.Fatalf("lease %d ms is %d cs, want %d", lease, f.Snapshot.LeaseCs[0], want)
		}
	}
	for lease := range uint32(math.MaxUint16 + 1) {
		check(lease*11%700000, uint16(lease))
	}
	for _, phase := range []uint32{655349, 655350, 655351, 700000, math.MaxUint32} {
		check(phase, 0)
	}
}
