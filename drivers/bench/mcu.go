package bench

import (
	"math"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Numbers of the microcontroller's program.
const (
	snapshotEveryMs = 10   // 100 Hz
	helloEveryMs    = 1000 // without a pair
	eventEveryMs    = 100  // at most 10 events a second
	firmware        = "bench"
)

// mcu is the simulated microcontroller: bytes in, the warden once a
// millisecond, bytes out, exactly as a firmware does it.
type mcu struct {
	filter warden.Filter
	state  warden.State
	in     warden.Input
	out    warden.Output
	raw    uint32 // the digital inputs as they came, before the filter
	ms     uint32 // since boot, wraps: the clock that stamps snapshots

	session   uint32
	device    uint16
	scale     uint16
	splitter  wire.Splitter
	receiver  wire.Receiver
	frame     wire.Frame
	header    wire.Header
	seq       uint16
	echoSeq   uint16
	requestMs uint64 // plant's time after the millisecond of the newest request
	hostMs    uint64 // the same of the newest request or hello request
	counted   uint32 // receiver.Bad already told to the warden

	config      []byte // encoded, for parameters requests
	hello       rig.Capabilities
	helloDue    bool
	piece       uint8
	pieceDue    bool
	events      [eventMax]wire.Event
	eventMs     uint32 // when the newest event was sent
	nEvents     int
	tripsBefore uint64
	dropped     uint32 // frames that found the way out full
	badFrames   uint16
	buf         [wire.MaxEncoded + 1]byte
	snap        rig.Snapshot
}

// eventMax is how many events wait for a place between snapshots; one more
// replaces the newest.
const eventMax = 8

// boot starts the program: a new session, state lost, outputs off.
func (r *Rig) boot() {
	m := &r.mcu
	r.plant.chains.restarted = true
	r.nv.Boots++
	if r.nv.Boots == 0 {
		r.nv.Boots = 1 // 0 means "not known yet" on the wire
	}
	config := m.config
	if config == nil {
		config = wire.EncodeConfig(&r.cfg)
	}
	hello := rig.Capabilities{
		Protocol: wire.Version, Device: m.device, Firmware: firmware,
		ConfigHash: wire.BlockHash(&r.cfg, &r.signals), FittedIn: r.cfg.FittedIn,
		FittedAnalog: r.cfg.FittedAnalog, Scale: m.scale, Session: r.nv.Boots,
	}
	*m = mcu{device: m.device, scale: m.scale, dropped: m.dropped, config: config,
		session: r.nv.Boots, hello: hello, helloDue: true, out: unpowered(),
		receiver: wire.NewMCUReceiver(m.device, r.nv.Boots)}
	m.eventMs -= eventEveryMs
	warden.Init(&m.state, r.nv.Byte)
	m.tripsBefore = m.state.Trips
	m.tell(wire.EventBoot, wire.BootPower)
}

// unpowered is what the actuators do without a microcontroller: nothing, and
// the press brake, which needs no power to hold, holds.
func unpowered() warden.Output { return warden.Output{Bits: warden.OutBrake} }

// step is one millisecond of the program.
func (m *mcu) step(r *Rig) {
	m.ms++
	before := m.in
	m.in = r.sense.in
	m.in.Request = before.Request
	r.up.apply(&m.in, &before, &r.rnd)
	m.in.Bits &= r.cfg.FittedIn
	m.raw = m.in.Bits
	warden.StepFilter(&m.filter, &m.in)
	m.in.AnalogOK &= r.cfg.FittedAnalog
	m.in.NV = r.nv.Byte
	m.listen(r)
	r.warden(&r.cfg, &m.state, &m.in, &m.out)
	if !r.up.nvDead {
		r.nv.Byte = m.out.NV
	}
	m.notice()
	m.speak(r)
}

// RawBits are the digital inputs of the newest millisecond before the filter.
func (r *Rig) RawBits() uint32 { return r.mcu.raw }

// listen takes what the line has brought.
func (m *mcu) listen(r *Rig) {
	for r.toMCU.to.n > 0 {
		raw, whole := m.splitter.Feed(r.toMCU.to.take())
		if !whole || m.receiver.Take(raw, m.ms, &m.frame) != wire.Accepted {
			continue
		}
		if m.receiver.NewSession {
			m.in.NewSession = 1
			m.in.Fresh = 0
		}
		switch m.frame.Class {
		case wire.ClassRequest:
			m.in.Request = m.frame.Request.Want
			m.in.Fresh = 1
			m.echoSeq = m.frame.Seq
			m.requestMs = r.plant.ms + 1
			m.hostMs = m.requestMs
		case wire.ClassHelloRequest:
			m.helloDue = true
			m.hostMs = r.plant.ms + 1
		case wire.ClassParametersRequest:
			m.piece, m.pieceDue = m.frame.Index, true
		}
	}
	bad := m.receiver.Bad()
	m.in.BadFrames = uint8(min(bad-m.counted, math.MaxUint8))
	m.counted = bad
	m.badFrames = uint16(bad)
}

// notice queues an event for a trip and for its reset.
func (m *mcu) notice() {
	s := &m.state
	switch {
	case s.Trips != 0 && m.tripsBefore == 0:
		m.tell(wire.EventTrip, uint32(s.First))
	case s.Trips == 0 && m.tripsBefore != 0 && m.in.Bits&warden.InReset != 0:
		m.tell(wire.EventReset, 1)
	case s.Trips == 0 && m.tripsBefore != 0:
		m.tell(wire.EventReset, 2)
	}
	m.tripsBefore = s.Trips
}

func (m *mcu) tell(code uint16, value uint32) {
	at := min(m.nEvents, eventMax-1)
	m.events[at] = wire.Event{Code: code, Value: value, StampMs: m.ms}
	m.nEvents = at + 1
}

// speak follows PROTOCOL.md: with a pair a snapshot every 10 ms and everything
// else between two of them, one frame at a time; without one hello, once a
// second.
func (m *mcu) speak(r *Rig) {
	paired := m.receiver.Peer() != 0
	if !paired && m.ms%helloEveryMs == 0 {
		m.helloDue = true
	}
	switch {
	case m.ms%snapshotEveryMs == 0:
		if paired {
			m.snapshot(&r.cfg)
			m.send(r, wire.AppendSnapshot(m.buf[:0], m.next(), &m.snap))
		}
	case r.toHost.from.n == 0:
		m.speakOther(r, paired)
	}
}

func (m *mcu) speakOther(r *Rig, paired bool) {
	switch {
	case m.helloDue:
		m.helloDue = false
		hello := wire.HelloOf(&m.hello, m.ms)
		// A delimiter first: what was left half sent ends here.
		m.send(r, wire.AppendHello(append(m.buf[:0], 0), m.next(), &hello))
	case !paired:
	case m.pieceDue:
		m.pieceDue = false
		if p, ok := wire.ConfigPiece(m.config, m.piece); ok {
			m.send(r, wire.AppendParameters(m.buf[:0], m.next(), &p))
		}
	case m.nEvents > 0 && m.ms-m.eventMs >= eventEveryMs:
		m.eventMs = m.ms
		event := m.events[0]
		m.nEvents--
		copy(m.events[:], m.events[1:1+m.nEvents])
		m.send(r, wire.AppendEvent(m.buf[:0], m.next(), &event))
	}
}

// next is the header of the next frame.
func (m *mcu) next() *wire.Header {
	m.seq++
	m.header = wire.Header{Device: m.device, MCUSession: m.session,
		HostSession: m.receiver.Peer(), Seq: m.seq}
	return &m.header
}

// send queues one frame whole, or drops it whole when the way out is full.
func (m *mcu) send(r *Rig, frame []byte) {
	if !r.toHost.from.put(frame) {
		m.dropped++
	}
}

func saturate16(ms uint32) uint16 { return uint16(min(ms, math.MaxUint16)) }

// snapshot is the rig as the microcontroller knows it now.
func (m *mcu) snapshot(c *warden.Config) {
	s, out := &m.state, &m.out
	m.snap = rig.Snapshot{
		StampMs: m.ms, In: m.in.Bits, Analog: m.in.Analog, AnalogOK: m.in.AnalogOK,
		GlassAgeMs: m.in.GlassAgeMs, Flags: m.flags(c),
		Out: out.Bits, FuelMl: out.FuelMl, OxygenMl: out.OxygenMl,
		SpindleDrpm: out.SpindleDrpm, SpeedCmms: out.SpeedCmms, ForceDN: out.ForceDN,
		TravelCmm: out.TravelCmm,
		Burner:    s.Burner, Press: s.Press, Spindle: s.Spindle, Link: s.Link, Lock: s.Lock,
		First: s.First, Trips: s.Trips, Present: s.Present,
		ArmID: s.ArmID, PhaseCs: saturate16(s.PhaseMs / 10), Unburnt: s.Unburnt,
		BadFrames: m.badFrames, Gaps: uint16(m.receiver.Gaps), EchoSeq: m.echoSeq,
	}
	for i, ms := range s.LeaseMs {
		m.snap.LeaseCs[i] = uint8(min(ms/10, math.MaxUint8))
	}
}

func (m *mcu) flags(c *warden.Config) uint16 {
	var f uint16
	if warden.ViewFree(c, &m.state, &m.in) {
		f |= rig.FlagViewFree
	}
	if m.state.Homed != 0 {
		f |= rig.FlagHomed
	}
	if m.state.Touching != 0 {
		f |= rig.FlagTouching
	}
	if warden.MayStroke(c, &m.state, &m.in) {
		f |= rig.FlagWindow
	}
	return f
}
