package emulated

import (
	"encoding/binary"
	"errors"
	"fmt"

	"pressrig/drivers/bench"
	"pressrig/safety/warden"
)

// Options of an emulated board.
type Options struct {
	Program string // the compiled emulator, see Build
	Image   *Image
	EEPROM  []byte // 4,096 bytes; nil is a chip that was never written
	Memory  string // file that keeps the EEPROM, "" for none; it goes before EEPROM
	Seed    uint32 // of what RAM holds at power-on
}

// Board is an emulated board with its power on. It is a bench.Board and, like
// a Rig, not safe for several goroutines. When the emulator dies, its outputs
// are off from then on and Err says why.
type Board struct {
	Figures Figures
	// Tick is called after every millisecond() that the image has finished, nil
	// for nothing.
	Tick func(*Tick)
	// Line are bytes that come over the line beside those of the host.
	Line []Symbol
	// DeadA and DeadB: that track of the press encoder keeps its level.
	DeadA, DeadB bool
	// Slip is what the encoder has gained, or lost, of its true counts; it comes
	// by slipPerMs a millisecond.
	Slip int32
	// Edges are so many more of the press encoder in every millisecond, to and
	// fro, at most 180.
	Edges int32

	p       *process
	wiring  wiring
	seed    uint32
	hung    bool
	travel  int32
	slipped int32
	to      int32
	frame   []byte
	session uint32
	newest  Tick
}

// Symbol is one byte on the line, or a break.
type Symbol uint16

// Break is a line held low for the time of a byte.
const Break Symbol = 0x8000

// slipPerMs and the 6 counts of a press at 60 mm/s are what a program has to
// count: 20,000 edges a second.
const slipPerMs = 14

// Causes of a reset, as MCUSR has them.
const (
	PowerOn  = 1 << 0
	BrownOut = 1 << 2
)

// Figures are the greatest and the sums since the board was made or Figures
// last cleared.
type Figures struct {
	Cycles      uint64 // since the emulator was started
	Ms          uint64 // stepped
	Ticks       uint64 // millisecond() finished
	Longest     uint32 // cycles of one, interrupts in between included
	LowestStack uint16 // 0: none seen
	Pulses      uint64 // edges for the watchdog outside
	Resets      int    // by the watchdog
	High        uint16 // outputs energised at any moment of the newest step
	Overruns    int    // bytes lost because the image did not fetch them
	EarlyWrites int    // EEPROM writes begun while another was under way
	Lost        int    // bytes beyond what may wait on the line
	FromBoard   uint64 // bytes
	ToBoard     uint64
}

// Tick is what the image's RAM held when a millisecond() had ended: what its
// warden remembers, saw and drove.
type Tick struct {
	State   warden.State
	In      warden.Input
	Out     warden.Output
	ClockMs uint32 // since the program started
}

// Start loads the image and switches power on.
func Start(o Options) (*Board, error) {
	b := &Board{seed: o.Seed}
	var ok bool
	if b.wiring, ok = readWiring(o.Image.Flash); !ok {
		return nil, errors.New("the image has no block: fit it to a rig first")
	}
	watch, err := watched(o.Image)
	if err != nil {
		return nil, err
	}
	var args []string
	if o.Memory != "" {
		args = append(args, o.Memory)
	}
	if b.p, err = start(o.Program, args...); err != nil {
		return nil, err
	}
	b.ask('L', []byte{0, 0, 0, 0}, o.Image.Flash)
	b.ask('W', watch)
	if o.EEPROM != nil && o.Memory == "" {
		b.ask('E', o.EEPROM)
	}
	b.Power(PowerOn)
	if b.p.err != nil {
		return nil, errors.Join(b.p.err, b.Close())
	}
	return b, nil
}

// watched says what is copied whenever millisecond() has ended: a Tick.
func watched(img *Image) ([]byte, error) {
	at, err := img.function("millisecond")
	if err != nil {
		return nil, err
	}
	list := binary.LittleEndian.AppendUint32(nil, at)
	for _, v := range []struct {
		name string
		like any
	}{{"guard_state", warden.State{}}, {"guard_input", warden.Input{}},
		{"guard_output", warden.Output{}}, {"clock_ms", uint32(0)}} {
		at, n, err := img.variable(v.name, v.like)
		if err != nil {
			return nil, err
		}
		list = binary.LittleEndian.AppendUint16(list, at)
		list = binary.LittleEndian.AppendUint16(list, n)
	}
	return list, nil
}

// ask is a question whose failure Err tells.
func (b *Board) ask(letter byte, parts ...[]byte) []byte {
	answer, _ := b.p.ask(letter, parts...)
	return answer
}

// Err is why the emulator is dead, nil while it lives.
func (b *Board) Err() error { return b.p.err }

// Close ends the emulator.
func (b *Board) Close() error { return b.p.close() }

// AsRead changes in to what the image can know of it: whole counts of its
// converter, and the age of the glass as the time since its signal was last in
// range, kept in ageMs. For comparisons.
func (b *Board) AsRead(in *warden.Input, ageMs *uint16) { b.wiring.asRead(in, ageMs) }

// Counts is how far two values of an analog input are apart, in counts of the
// converter or the encoder.
func (b *Board) Counts(ai uint8, one, other int16) int {
	s := &b.wiring.analog[ai]
	return int(s.counts(one) - s.counts(other))
}

// Power switches power on, after the cause that MCUSR shall have. What was on
// is cut first, and a byte of EEPROM that was being written keeps its old bits
// but those of torn.
func (b *Board) Power(cause uint8) { b.power(cause, 0) }

// Tear is Power whose cut changes the bits torn of a byte of EEPROM that was
// being written just then.
func (b *Board) Tear(cause, torn uint8) { b.power(cause, torn) }

func (b *Board) power(cause, torn uint8) {
	b.seed++
	b.ask('P', []byte{cause, torn}, binary.LittleEndian.AppendUint32(nil, b.seed))
}

// Cut takes power away.
func (b *Board) Cut() { b.ask('p', []byte{0}) }

// Hang lets the program stand still from the next moment in which it runs in
// millisecond(), or outside it, with interrupts on or off.
func (b *Board) Hang(interrupts, inTick bool) {
	b.ask('H', []byte{bit(interrupts, 1), bit(inTick, 1)})
}

// Clock lets the crystal run at so many percent of its frequency.
func (b *Board) Clock(percent uint16) { b.ask('C', binary.LittleEndian.AppendUint16(nil, percent)) }

// EEPROM is a copy of its cells.
func (b *Board) EEPROM() []byte { return append([]byte(nil), b.ask('e')...) }

// Peek reads RAM, Poke changes it.
func (b *Board) Peek(at, n uint16) []byte {
	return append([]byte(nil), b.ask('M', binary.LittleEndian.AppendUint16(
		binary.LittleEndian.AppendUint16(nil, at), n))...)
}

// Poke changes RAM.
func (b *Board) Poke(at uint16, bytes ...byte) {
	b.ask('m', binary.LittleEndian.AppendUint16(nil, at), bytes)
}

func bit(on bool, v byte) byte {
	if on {
		return v
	}
	return 0
}

// Step is one millisecond.
func (b *Board) Step(in *bench.BoardInput, out *bench.BoardOutput) {
	if in.Hang && !b.hung {
		b.Hang(true, true)
	}
	b.hung = in.Hang
	b.encode(in)
	answer, err := b.p.ask('S', b.frame)
	if err == nil {
		err = b.decode(answer, out)
		b.p.err = err
	}
	if err != nil {
		unpowered(out)
		return
	}
	b.Figures.Ms++
	out.Session, out.Ms = b.session, b.newest.ClockMs
	out.NV = b.newest.In.NV
}

// encode makes the frame of one step; sim/main.c has its layout.
func (b *Board) encode(in *bench.BoardInput) {
	le, s := binary.LittleEndian, &in.Sensors
	f := le.AppendUint32(b.frame[:0], s.Bits)
	for ai, v := range s.Analog {
		f = le.AppendUint16(f, b.wiring.millivolts(ai, v, s.AnalogOK&(1<<ai) != 0))
	}
	if travel := &b.wiring.analog[warden.AiTravel]; s.AnalogOK&(1<<warden.AiTravel) != 0 {
		b.travel = max(0, travel.counts(s.Analog[warden.AiTravel])-int32(travel.zero)) // 0 is the stop
	}
	b.slipped += min(slipPerMs, max(-slipPerMs, b.Slip-b.slipped))
	if b.to != 0 {
		b.to = 0
	} else {
		b.to = b.Edges
	}
	f = le.AppendUint32(f, uint32(b.travel+b.slipped+b.to))
	f = append(f, bit(in.Reset, 1)|bit(in.WatchdogDead, 2)|bit(in.NVDead, 4)|bit(b.DeadA, 8)|bit(b.DeadB, 16))
	for _, c := range in.FromHost {
		f = le.AppendUint16(f, uint16(c))
	}
	for _, c := range b.Line {
		f = le.AppendUint16(f, uint16(c))
	}
	b.Figures.ToBoard += uint64(len(in.FromHost) + len(b.Line))
	b.frame, b.Line = f, b.Line[:0]
}

// Sizes of a step's answer, before what it copied from RAM and what was sent.
const headBytes = 8 + 2 + 2 + 2*5 + 2 + 4 + 2 + 1 + 1 + 2 + 2 + 2 + 1

func (b *Board) decode(a []byte, out *bench.BoardOutput) error {
	le, fig := binary.LittleEndian, &b.Figures
	if len(a) < headBytes {
		return fmt.Errorf("the emulator answers %d bytes to a step; at least %d are expected", len(a), headBytes)
	}
	fig.Cycles = le.Uint64(a)
	level, high := le.Uint16(a[8:]), le.Uint16(a[10:])
	var steps [5]uint16
	for i := range steps {
		steps[i] = le.Uint16(a[12+2*i:])
	}
	b.wiring.pins(level, &steps, &out.Pins)
	fig.High = high
	out.Pulses = le.Uint16(a[22:])
	fig.Pulses += uint64(out.Pulses)
	fig.Longest = max(fig.Longest, le.Uint32(a[24:]))
	if sp := le.Uint16(a[28:]); fig.LowestStack == 0 || sp < fig.LowestStack {
		fig.LowestStack = sp
	}
	fig.Resets += int(a[30])
	if a[31] == 2 {
		return fmt.Errorf("the emulated processor has crashed; the emulator said: %s", b.p.said.String())
	}
	fig.Overruns += int(le.Uint16(a[32:]))
	fig.EarlyWrites += int(le.Uint16(a[34:]))
	fig.Lost += int(le.Uint16(a[36:]))
	captures, rest := int(a[38]), a[headBytes:]
	for range captures {
		n, err := binary.Decode(rest, le, &b.newest)
		if err != nil {
			return fmt.Errorf("the emulator's copy of RAM is cut short: %w", err)
		}
		rest = rest[n:]
		fig.Ticks++
		b.took(out)
	}
	out.ToHost = append(out.ToHost, rest...)
	fig.FromBoard += uint64(len(rest))
	return nil
}

// took notes one finished millisecond() of the image. Where two end in one step
// the events of both count.
func (b *Board) took(out *bench.BoardOutput) {
	t := &b.newest
	if b.Tick != nil {
		b.Tick(t)
	}
	if out.Ran {
		t.In.Fresh |= out.In.Fresh
		t.In.NewSession |= out.In.NewSession
	}
	out.Ran, out.In, out.Out, out.State = true, t.In, t.Out, t.State
}
