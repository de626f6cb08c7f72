package bench

import (
	"testing"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// host is the least supervisor: it renews one request every 50 ms and keeps
// what comes back. It decides nothing.
type host struct {
	t      *testing.T
	r      *Rig
	cfg    warden.Config
	header wire.Header
	recv   wire.Receiver
	split  wire.Splitter
	frame  wire.Frame
	want   rig.Request
	quiet  bool // sends nothing

	snap   rig.Snapshot
	snaps  int
	hello  rig.Capabilities
	hellos int
	events []wire.Event
	bytes  []byte // of the newest Transmit
	each   func() // after every millisecond
}

// testConfig is the warden's configuration of a built-in profile with short
// purges, so that a test does not spend most of its time there.
func testConfig(t testing.TB, name string) (*rig.Profile, warden.Config) {
	t.Helper()
	p, err := rig.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	c := p.WardenConfig()
	c.OverForceDN = or(c.OverForceDN, c.ForceMaxDN+c.ForceMaxDN/4)
	c.EaseStepDN = or(c.EaseStepDN, c.ForceMaxDN/1000+1)
	c.SoftMs = or(c.SoftMs, 30000)
	c.PurgeMs, c.PostPurgeMs, c.CheckMs = 2000, 2000, 500
	return p, c
}

func newHost(t *testing.T, profile string, change func(*Options)) *host {
	t.Helper()
	p, c := testConfig(t, profile)
	o := Options{Profile: p, Config: c, Seed: 1}
	if change != nil {
		change(&o)
	}
	r, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	h := &host{t: t, r: r, cfg: o.Config}
	h.connect()
	return h
}

// connect opens a new host session.
func (h *host) connect() {
	h.header = wire.Header{Device: h.r.mcu.device, HostSession: 0x1000 + uint32(h.hellos), Seq: 7}
	h.recv = wire.NewHostReceiver(h.r.mcu.device, h.header.HostSession)
	h.split = wire.Splitter{}
	h.r.Receive([]byte{0})
	h.send(wire.AppendHelloRequest(nil, &h.header))
	before := h.hellos
	for i := 0; i < 100 && h.hellos == before; i++ {
		h.ms(1)
	}
	if h.hellos == before {
		h.t.Fatal("no hello within 100 ms")
	}
}

func (h *host) send(frame []byte) {
	h.r.Receive(frame)
	h.header.Seq++
}

// ms lets n milliseconds pass.
func (h *host) ms(n int) {
	for range n {
		if h.r.Ms()%50 == 0 && h.header.MCUSession != 0 && !h.quiet {
			m := wire.Request{EchoMs: h.snap.StampMs, Want: h.want}
			h.send(wire.AppendRequest(nil, &h.header, &m))
		}
		h.r.Step()
		h.bytes = h.r.Transmit(h.bytes[:0])
		for _, b := range h.bytes {
			if raw, whole := h.split.Feed(b); whole {
				h.take(raw)
			}
		}
		if h.each != nil {
			h.each()
		}
	}
}

func (h *host) take(raw []byte) {
	if h.recv.Take(raw, uint32(h.r.Ms()), &h.frame) != wire.Accepted {
		return
	}
	switch h.frame.Class {
	case wire.ClassHello:
		h.hello = h.frame.Capabilities()
		h.hellos++
		h.header.MCUSession = h.frame.MCUSession
		h.snap.StampMs = h.frame.Hello.StampMs
	case wire.ClassSnapshot:
		h.snap = h.frame.Snapshot
		h.snaps++
	case wire.ClassEvent:
		h.events = append(h.events, h.frame.Event)
	}
}

// until waits for ok, at most so many milliseconds, and reports when.
func (h *host) until(what string, most int, ok func() bool) uint64 {
	h.t.Helper()
	for range most {
		if ok() {
			return h.r.Ms()
		}
		h.ms(1)
	}
	h.t.Fatalf("%s: not within %d ms; %+v", what, most, h.r.Truth())
	return 0
}

// start arms, pushes START and asks for a soft flame, burner clear.
func (h *host) start() {
	h.t.Helper()
	h.want = rig.Request{Lease: 15, Flags: warden.ReqArm, ArmID: h.want.ArmID + 1,
		GlassLowDC: 8000, GlassHighDC: 10000, FuelMl: 900}
	h.until("armed", 300, func() bool { return h.r.mcu.out.Bits&warden.OutArmedLamp != 0 })
	h.ms(20)
	h.r.Press(ButtonStart, 100)
	h.until("started", 300, func() bool { return h.r.mcu.state.Started == 1 })
	h.want.Flags = warden.ReqCycle | warden.ReqFlame
	h.want.SpindleDrpm = 600
}

// light is start and then everything up to the run phase.
func (h *host) light() {
	h.t.Helper()
	h.start()
	h.until("run", 20000, func() bool { return h.r.mcu.state.Burner == warden.BurnerRun })
}

// heat brings the burner to the blank with these flows until the skin has
// celsius, and returns how long that took.
func (h *host) heat(fuelMl, oxygenMl uint16, celsius float64, most int) uint64 {
	h.t.Helper()
	h.want.Flags |= warden.ReqBurnerIn | warden.ReqOxygen
	h.want.FuelMl, h.want.OxygenMl = fuelMl, oxygenMl
	from := h.r.Ms()
	return h.until("hot", most, func() bool { return h.r.plant.state.SkinC >= celsius }) - from
}

// aside takes the burner clear on fuel alone and stops the spindle.
func (h *host) aside() {
	h.t.Helper()
	h.want.Flags &^= warden.ReqBurnerIn | warden.ReqOxygen
	h.want.FuelMl, h.want.SpindleDrpm, h.want.OxygenMl = 900, 0, 0
}

// inject gives the rig the fault of a line.
func (h *host) inject(line string) {
	h.t.Helper()
	f, err := ParseFault(line)
	if err == nil {
		err = h.r.Inject(f)
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

// stroke asks for one press action.
func (h *host) stroke(press uint8, travelCmm int16, speedCmms, forceDN uint16) {
	h.want.Press, h.want.TravelCmm = press, travelCmm
	h.want.SpeedCmms, h.want.ForceDN = speedCmms, forceDN
}
