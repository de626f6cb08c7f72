package chunk_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"hash/crc32"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/klauspost/compress/zstd"
	"pgregory.net/rapid"

	"pressrig/alloctest"
	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
	"pressrig/rig"
	"pressrig/safety/warden"
)

var rewrite = flag.Bool("rewrite", false, "write golden files anew; a person reads the diff")

func encoder(t testing.TB) *chunk.Encoder {
	t.Helper()
	e, err := chunk.NewEncoder()
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func decoder(t testing.TB) *chunk.Decoder {
	t.Helper()
	d, err := chunk.NewDecoder()
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func steps(src *steptest.Source, n int) []chunk.Row {
	rows := make([]chunk.Row, n)
	for i := range rows {
		rows[i].Set(src.Next())
	}
	return rows
}

func TestRoundTripOfACycle(t *testing.T) {
	src := steptest.New(1)
	src.Actions = true
	e, d := encoder(t), decoder(t)
	for range 120 {
		rows := steps(src, 100)
		block, err := e.Encode(nil, rows)
		if err != nil {
			t.Fatal(err)
		}
		got, err := d.Decode(nil, block)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(rows, got); diff != "" {
			t.Fatal(diff)
		}
	}
}

// anyRow draws every field over its whole range, ends included.
func anyRow(t *rapid.T) chunk.Row {
	r := chunk.Row{
		Tick: rapid.Uint64().Draw(t, "tick"), ElapsedMs: rapid.Uint64().Draw(t, "elapsed"),
		Session: rapid.Uint32().Draw(t, "session"), BadFrames: rapid.Uint8().Draw(t, "bad"),
		HasSnap: rapid.Bool().Draw(t, "has"), Ack: rapid.Bool().Draw(t, "ack"),
		Command: controller.Command(rapid.Uint8().Draw(t, "command")),
		By:      rapid.StringN(0, -1, chunk.MaxBy).Draw(t, "by"),
		User:    rapid.StringN(0, -1, chunk.MaxBy).Draw(t, "user"),
		Answer: controller.Answer{Prompt: rapid.Uint16().Draw(t, "prompt"),
			Yes: rapid.Bool().Draw(t, "yes")},
		Journal: controller.JournalHealth{Writable: rapid.Bool().Draw(t, "writable"),
			Started: rapid.Uint32().Draw(t, "started")},
		Request: anyRequest(t),
	}
	if r.HasSnap {
		r.Snap = anySnap(t)
	}
	if rapid.Bool().Draw(t, "hasJob") {
		r.HasJob = true
		r.Job = chunk.Job{Cycle: rapid.Uint32().Draw(t, "cycle"), Run: rapid.Uint32().Draw(t, "run"),
			Piece: rapid.Uint16().Draw(t, "piece"), Dummy: rapid.Bool().Draw(t, "dummy"),
			Last: rapid.Bool().Draw(t, "last"), By: rapid.StringN(0, -1, chunk.MaxBy).Draw(t, "jobBy"),
			User: rapid.StringN(0, -1, chunk.MaxBy).Draw(t, "jobUser")}
	}
	return r
}

func anySnap(t *rapid.T) rig.Snapshot {
	u8 := func(name string) uint8 { return rapid.Uint8().Draw(t, name) }
	u16 := func(name string) uint16 { return rapid.Uint16().Draw(t, name) }
	u32 := func(name string) uint32 { return rapid.Uint32().Draw(t, name) }
	s := rig.Snapshot{
		StampMs: u32("stamp"), In: u32("in"), AnalogOK: u16("ok"), GlassAgeMs: u16("age"),
		Flags: u16("flags"), Out: u16("out"), FuelMl: u16("fuel"), OxygenMl: u16("oxygen"),
		SpindleDrpm: u16("spindle"), SpeedCmms: u16("speed"), ForceDN: u16("force"),
		TravelCmm: rapid.Int16().Draw(t, "travel"), Burner: u8("burner"), Press: u8("press"),
		Spindle: u8("sp"), Link: u8("link"), Lock: u8("lock"), First: u8("first"),
		Trips: rapid.Uint64().Draw(t, "trips"), Present: rapid.Uint64().Draw(t, "present"),
		ArmID: u16("arm"), PhaseCs: u16("phase"), Unburnt: u32("unburnt"), BadFrames: u16("badf"),
		Gaps: u16("gaps"), EchoSeq: u16("echo"),
	}
	for i := range s.Analog {
		s.Analog[i] = rapid.Int16().Draw(t, "analog")
	}
	for i := range s.LeaseCs {
		s.LeaseCs[i] = u8("lease")
	}
	return s
}

func anyRequest(t *rapid.T) rig.Request {
	u16 := func(name string) uint16 { return rapid.Uint16().Draw(t, name) }
	i16 := func(name string) int16 { return rapid.Int16().Draw(t, name) }
	return rig.Request{
		Lease: rapid.Uint8().Draw(t, "reqLease"), Press: rapid.Uint8().Draw(t, "reqPress"),
		Flags: u16("reqFlags"), ArmID: u16("reqArm"), FuelMl: u16("reqFuel"),
		OxygenMl: u16("reqOxygen"), SpindleDrpm: u16("reqSpindle"), TravelCmm: i16("reqTravel"),
		SpeedCmms: u16("reqSpeed"), ForceDN: u16("reqForce"), GlassLowDC: i16("low"),
		GlassHighDC: i16("high"), EstDC: i16("est"), EstUncDC: u16("unc"), EstAgeMs: u16("estAge"),
	}
}

func TestRoundTripOfAnything(t *testing.T) {
	e, d := encoder(t), decoder(t)
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.Custom(anyRow), 1, 6).Draw(t, "rows")
		block, err := e.Encode(nil, rows)
		if err != nil {
			t.Fatal(err)
		}
		got, err := d.Decode(nil, block)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(rows, got); diff != "" {
			t.Fatal(diff)
		}
		trace, err := d.DecodeTrace(nil, block)
		if err != nil {
			t.Fatal(err)
		}
		for i := range rows {
			if diff := cmp.Diff(traceOf(rows[i]), trace[i]); diff != "" {
				t.Fatal(diff)
			}
		}
	})
}

// traceOf is the plain twin of DecodeTrace.
func traceOf(r chunk.Row) chunk.Row {
	t := chunk.Row{ElapsedMs: r.ElapsedMs, HasSnap: r.HasSnap}
	t.Journal.Writable = r.Journal.Writable
	t.Snap.Analog, t.Snap.AnalogOK = r.Snap.Analog, r.Snap.AnalogOK
	t.Snap.In, t.Snap.Out = r.Snap.In, r.Snap.Out
	t.Snap.Burner, t.Snap.Press, t.Snap.Flags = r.Snap.Burner, r.Snap.Press, r.Snap.Flags
	return t
}

// Every field of the input and of the request must be kept: a field that is
// added to the shared types and forgotten here fails this test.
func TestInputSurvivesWhole(t *testing.T) {
	snap := rig.Snapshot{StampMs: 1, Trips: math.MaxUint64,
		Analog: [warden.NumAnalog]int16{-32768, 32767}}
	in := controller.Input{Tick: 9, ElapsedMs: 8, Snap: &snap, Session: 7, BadFrames: 6,
		Command: controller.Hold, By: "Ada", User: "uid 1000", Ack: true,
		Job:     &controller.Job{Cycle: 5, Run: 4, Piece: 3, Dummy: true, Last: true, By: "Grace", User: "uid 1001"},
		Answer:  controller.Answer{Prompt: 2, Yes: true},
		Journal: controller.JournalHealth{Writable: true, Started: 1}}
	var row chunk.Row
	row.Set(&in, &rig.Request{Lease: 15})
	block, err := encoder(t).Encode(nil, []chunk.Row{row})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := decoder(t).Decode(nil, block)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(in, rows[0].Input()); diff != "" {
		t.Error(diff)
	}
	if rows[0].Request != (rig.Request{Lease: 15}) {
		t.Errorf("request came back as %+v", rows[0].Request)
	}
}

func TestLimits(t *testing.T) {
	e, d := encoder(t), decoder(t)
	for _, c := range []struct {
		rows int
		ok   bool
	}{{0, false}, {1, true}, {chunk.MaxRows, true}, {chunk.MaxRows + 1, false}} {
		_, err := e.Encode(nil, make([]chunk.Row, c.rows))
		if (err == nil) != c.ok {
			t.Errorf("%d rows: error %v", c.rows, err)
		}
	}
	long := string(bytes.Repeat([]byte("x"), chunk.MaxBy+1))
	var row chunk.Row
	row.Set(&controller.Input{By: long, Job: &controller.Job{By: long}}, &rig.Request{})
	if len(row.By) != chunk.MaxBy || len(row.Job.By) != chunk.MaxBy {
		t.Errorf("names of %d and %d bytes are kept", len(row.By), len(row.Job.By))
	}
	rows := make([]chunk.Row, chunk.MaxRows)
	for i := range rows { // as long as a block can be
		rows[i] = row
		rows[i].Tick = uint64(i%2) * (1 << 63)
	}
	block, err := e.Encode(nil, rows)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Decode(nil, block); err != nil {
		t.Error(err)
	}
}

func TestCorruptBlocksAreRefused(t *testing.T) {
	e, d := encoder(t), decoder(t)
	rows := steps(steptest.New(3), 50)
	block, err := e.Encode(nil, rows)
	if err != nil {
		t.Fatal(err)
	}
	for i := range block { // the checksum sees any changed byte
		bad := bytes.Clone(block)
		bad[i] ^= 0x40
		if _, err := d.Decode(nil, bad); !errors.Is(err, chunk.ErrCorrupt) {
			t.Fatalf("byte %d changed: error %v", i, err)
		}
	}
	for n := range block {
		if _, err := d.Decode(nil, block[:n]); !errors.Is(err, chunk.ErrCorrupt) {
			t.Fatalf("first %d bytes: error %v", n, err)
		}
	}
	if _, err := d.Decode(nil, make([]byte, chunk.MaxBytes+1)); !errors.Is(err, chunk.ErrCorrupt) {
		t.Errorf("too long: error %v", err)
	}
}

// A small frame that unpacks to gigabytes must not take the memory.
func TestBombIsRefused(t *testing.T) {
	z, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	bomb := frame(z.EncodeAll(make([]byte, 64<<20), nil), nil)
	if _, err := decoder(t).Decode(nil, bomb); !errors.Is(err, chunk.ErrCorrupt) {
		t.Errorf("%d bytes that unpack to 64 MiB: error %v", len(bomb), err)
	}
}

// frame makes a block with a right checksum of a zstd frame and bits.
func frame(z, bits []byte) []byte {
	b := binary.AppendUvarint([]byte{1, 0, 0, 0, 0}, uint64(len(z)))
	b = append(append(b, z...), bits...)
	sum := crc32.Checksum(b[5:], crc32.MakeTable(crc32.Castagnoli))
	binary.LittleEndian.PutUint32(b[1:], sum)
	return b
}

// unframe is the reverse.
func unframe(t testing.TB, block []byte) (raw, bits []byte) {
	t.Helper()
	unz, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1))
	if err != nil {
		t.Fatal(err)
	}
	defer unz.Close()
	size, n := binary.Uvarint(block[5:])
	raw, err = unz.DecodeAll(block[5+n:5+n+int(size)], nil)
	if err != nil {
		t.Fatal(err)
	}
	return raw, block[5+n+int(size):]
}

// The stored block must stay readable for ever; it needs no equal bytes from a
// newer compressor.
func TestGolden(t *testing.T) {
	src := steptest.New(42)
	src.Actions = true
	want := steps(src, 120)
	path := filepath.Join("testdata", "format1.chunk")
	if *rewrite {
		block, err := encoder(t).Encode(nil, want)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, block, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	block, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	got, err := decoder(t).Decode(nil, block)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// The target is 0.6 bytes a sample, a sample being one value of one of twelve
// channels in one step: ten analog inputs and two set-points.
func TestSizeOnARealisticTrace(t *testing.T) {
	const seconds, rate, channels, target = 180, 100, 12, 0.6
	src := steptest.New(5)
	e := encoder(t)
	total := 0
	for range seconds {
		block, err := e.Encode(nil, steps(src, rate))
		if err != nil {
			t.Fatal(err)
		}
		total += len(block)
	}
	perRow := float64(total) / (seconds * rate)
	t.Logf("%d bytes; %.2f bytes a step with all its fields; %.3f a sample of %d channels; "+
		"%.3f if only the %d analog inputs count", total, perRow, perRow/channels, channels,
		perRow/float64(warden.NumAnalog), warden.NumAnalog)
	if perRow/channels > target {
		t.Errorf("%.3f bytes a sample; the target is %.1f", perRow/channels, target)
	}
}

// mostDecoding bounds, in bytes, what unpacking a block allocates however long
// it is: MaxRows rows in a slice that doubles, MaxBytes unpacked, an error.
const mostDecoding = 1 << 20

func FuzzDecode(f *testing.F) {
	e, d := encoder(f), decoder(f)
	src := steptest.New(6)
	src.Actions = true
	for _, n := range []int{1, 7, 128} {
		block, err := e.Encode(nil, steps(src, n))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(block)
	}
	f.Fuzz(func(t *testing.T, block []byte) {
		var rows []chunk.Row
		var err error
		alloctest.Within(t, mostDecoding, func() { rows, err = d.Decode(nil, block) })
		if err != nil {
			if !errors.Is(err, chunk.ErrCorrupt) {
				t.Fatalf("error of another kind: %v", err)
			}
			return
		}
		checkAgain(t, e, d, rows)
	})
}

// FuzzPayload puts the input into a valid frame, so that the fuzzer gets past
// the checksum to the columns.
func FuzzPayload(f *testing.F) {
	z, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
	if err != nil {
		f.Fatal(err)
	}
	e, d := encoder(f), decoder(f)
	src := steptest.New(8)
	src.Actions = true
	for _, n := range []int{1, 20, 128} {
		block, err := e.Encode(nil, steps(src, n))
		if err != nil {
			f.Fatal(err)
		}
		raw, bits := unframe(f, block)
		f.Add(raw, bits)
	}
	f.Fuzz(func(t *testing.T, raw, bits []byte) {
		block := frame(z.EncodeAll(raw, nil), bits)
		var rows []chunk.Row
		var err error
		alloctest.Within(t, mostDecoding, func() { rows, err = d.Decode(nil, block) })
		if err == nil {
			checkAgain(t, e, d, rows)
		}
	})
}

// checkAgain: what decoded can be encoded and decodes to the same.
func checkAgain(t *testing.T, e *chunk.Encoder, d *chunk.Decoder, rows []chunk.Row) {
	t.Helper()
	if len(rows) == 0 || len(rows) > chunk.MaxRows {
		t.Fatalf("%d rows accepted", len(rows))
	}
	block, err := e.Encode(nil, rows)
	if err != nil {
		t.Fatal(err)
	}
	again, err := d.Decode(nil, block)
	if err != nil {
		t.Fatal(err)
	}
	if !cmp.Equal(rows, again) {
		t.Fatal(cmp.Diff(rows, again))
	}
}

func BenchmarkEncodeSecond(b *testing.B) {
	rows := steps(steptest.New(1), 100)
	e := encoder(b)
	var block []byte
	for b.Loop() {
		block, _ = e.Encode(block[:0], rows)
	}
	b.ReportMetric(float64(len(block))/float64(len(rows)), "bytes/step")
}

func BenchmarkDecodeSecond(b *testing.B) {
	block, err := encoder(b).Encode(nil, steps(steptest.New(1), 100))
	if err != nil {
		b.Fatal(err)
	}
	d := decoder(b)
	rows := make([]chunk.Row, 0, chunk.MaxRows)
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			rows, _ = d.Decode(rows[:0], block)
		}
	})
	b.Run("trace", func(b *testing.B) {
		for b.Loop() {
			rows, _ = d.DecodeTrace(rows[:0], block)
		}
	})
}
