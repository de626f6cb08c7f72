package benchport

import (
	"os"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// client is the host's end of the pty.
type client struct {
	t      *testing.T
	f      *os.File
	header wire.Header
	recv   wire.Receiver
	split  wire.Splitter
	frame  wire.Frame
	buf    [512]byte
	left   []byte
	want   rig.Request
	stamp  uint32
	sentAt uint32
	quiet  bool
}

func dial(t *testing.T, path string, session uint32) *client {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	c := &client{t: t, f: f, header: wire.Header{Device: 1, HostSession: session}}
	c.recv = wire.NewHostReceiver(1, session)
	c.write(wire.AppendHelloRequest([]byte{0}, &c.header))
	c.until(wire.ClassHello, func() bool { return true })
	c.header.MCUSession = c.frame.MCUSession
	c.stamp, c.sentAt = c.frame.Hello.StampMs, c.frame.Hello.StampMs
	return c
}

func (c *client) write(frame []byte) {
	c.t.Helper()
	if _, err := c.f.Write(frame); err != nil {
		c.t.Fatal(err)
	}
	c.header.Seq++
}

// next is the next accepted frame. A request goes out every 50 ms of the
// board's own clock.
func (c *client) next() {
	c.t.Helper()
	for {
		for i, b := range c.left {
			raw, whole := c.split.Feed(b)
			if whole && c.recv.Take(raw, c.stamp, &c.frame) == wire.Accepted {
				c.left = c.left[i+1:]
				c.renew()
				return
			}
		}
		if err := c.f.SetReadDeadline(time.Now().Add(patience)); err != nil {
			c.t.Fatal(err)
		}
		n, err := c.f.Read(c.buf[:])
		if err != nil {
			c.t.Fatal("read: ", err)
		}
		c.left = c.buf[:n]
	}
}

func (c *client) renew() {
	if c.frame.Class != wire.ClassSnapshot || c.header.MCUSession == 0 {
		return
	}
	c.stamp = c.frame.Snapshot.StampMs
	if c.quiet || c.stamp-c.sentAt < 50 {
		return
	}
	c.sentAt = c.stamp
	c.write(wire.AppendRequest(nil, &c.header, &wire.Request{EchoMs: c.stamp, Want: c.want}))
}

// until reads frames until one of class fits.
func (c *client) until(class wire.Class, fits func() bool) {
	c.t.Helper()
	end := time.Now().Add(patience)
	for time.Now().Before(end) {
		c.next()
		if c.frame.Class == class && fits() {
			return
		}
	}
	c.t.Fatalf("no %v that fits within %v; newest %+v", class, patience, c.frame.Snapshot)
}

func (c *client) snapshot(fits func(*rig.Snapshot) bool) {
	c.t.Helper()
	c.until(wire.ClassSnapshot, func() bool { return fits(&c.frame.Snapshot) })
}

// light arms, has START pushed and asks for a flame.
func (c *client) light(push func()) {
	c.t.Helper()
	c.want = rig.Request{Lease: 15, Flags: warden.ReqArm, ArmID: 1, GlassLowDC: 8000,
		GlassHighDC: 10000, FuelMl: 900}
	c.snapshot(func(s *rig.Snapshot) bool { return s.Link == warden.LinkArmed })
	push()
	c.snapshot(func(s *rig.Snapshot) bool { return s.Link == warden.LinkStarted })
	c.want.Flags = warden.ReqCycle | warden.ReqFlame
}

func (c *client) hangUp() {
	c.t.Helper()
	if err := c.f.Close(); err != nil {
		c.t.Fatal(err)
	}
}
