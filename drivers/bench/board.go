package bench

import "pressrig/safety/warden"

// Board is a microcontroller in the place of the simulated one, like a real
// image in an emulator. The plant, the sensors, the faults and the people stay;
// what the board sees comes over wires, and what it does shows at its pins.
type Board interface {
	// Step lets the board run for one millisecond.
	Step(in *BoardInput, out *BoardOutput)
}

// BoardInput is what the wires carry to a Board in one millisecond, faults
// included.
type BoardInput struct {
	// Sensors has the switches, the channels, which of them read well, and the
	// age of the glass sample; nothing else of it is set.
	Sensors  warden.Input
	FromHost []byte // have crossed the line; the board's own port paces them

	Reset        bool // held in reset
	Hang         bool // its program stands still
	WatchdogDead bool // its own never acts: no fault of the rig, set by tests of a board
	NVDead       bool // non-volatile memory takes no byte
}

// BoardOutput is what a Board did in one millisecond.
type BoardOutput struct {
	// Pins is what the actuators feel. A press that the board itself slows down
	// on its way goes at that speed to wherever it is sent.
	Pins   warden.Output
	ToHost []byte // sent
	Pulses uint16 // edges for the outside watchdog

	// Ran: the board's warden has made a step, and this is what it saw, drove
	// and remembers of it.
	Ran   bool
	In    warden.Input
	Out   warden.Output
	State warden.State

	Session uint32 // boot counter, 0 unknown
	Ms      uint32 // clock of the program
	NV      uint8  // byte in non-volatile memory
}

// foreign is a Board with what it is given and gives.
type foreign struct {
	board Board
	in    BoardInput
	out   BoardOutput
	reset bool // for the next millisecond, by Rig.Reset
}

// unpaced is the rate of a line that adds no delay of its own.
const unpaced = 1_000_000_000

// step is one millisecond of the board.
func (f *foreign) step(r *Rig) {
	before := f.in.Sensors
	f.in.Sensors = r.sense.in
	r.up.apply(&f.in.Sensors, &before, &r.rnd)
	f.in.FromHost = r.toMCU.to.appendAll(f.in.FromHost[:0])
	f.in.Reset = r.up.reset || f.reset
	f.in.Hang, f.in.NVDead = r.up.hang, r.up.nvDead
	f.reset = false
	f.out.ToHost, f.out.Ran, f.out.Pulses = f.out.ToHost[:0], false, 0
	f.board.Step(&f.in, &f.out)
	m := &r.mcu
	if !r.toHost.from.put(f.out.ToHost) {
		m.dropped++
	}
	m.session, m.ms = f.out.Session, f.out.Ms
	r.nv.Byte, r.nv.Boots = f.out.NV, f.out.Session
	if !f.out.Ran {
		return
	}
	m.in, m.out, m.state = f.out.In, f.out.Out, f.out.State
	if m.in.Fresh != 0 || m.in.NewSession != 0 {
		m.hostMs = r.plant.ms + 1
	}
	if m.in.Fresh != 0 {
		m.requestMs = m.hostMs
	}
}

// driven is what the actuators feel.
func (r *Rig) driven() *warden.Output {
	if c := &r.plant.chains; c.cut {
		return &c.felt
	}
	return r.asked()
}

// asked is what the board drives at its pins.
func (r *Rig) asked() *warden.Output {
	if r.foreign.board != nil {
		return &r.foreign.out.Pins
	}
	return &r.mcu.out
}
