package benchport

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/safety/warden"
)

const ms = time.Millisecond

// talker sends requests straight into a rig, as a host at the other end would.
type talker struct {
	r      *bench.Rig
	p      pace
	header wire.Header
	recv   wire.Receiver
	split  wire.Splitter
	frame  wire.Frame
}

func newTalker(t *testing.T, scale int) *talker {
	c := &talker{r: mustRig(t), p: newPace(scale), recv: wire.NewHostReceiver(1, 9)}
	c.header = wire.Header{Device: 1, HostSession: 9}
	c.r.Receive(wire.AppendHelloRequest([]byte{0}, &c.header))
	return c
}

// at lets real time reach elapsed and returns the virtual ms that were due.
func (c *talker) at(elapsed time.Duration) uint64 {
	c.p.heard(elapsed, c.r)
	due := c.p.due(elapsed, c.r)
	for range due {
		c.r.Step()
	}
	c.p.stepped(due)
	for _, b := range c.r.Transmit(nil) {
		if raw, whole := c.split.Feed(b); whole {
			c.recv.Take(raw, uint32(c.r.Ms()), &c.frame)
		}
	}
	c.p.heard(elapsed, c.r)
	return due
}

func (c *talker) request() {
	c.header.Seq++
	c.header.MCUSession = c.frame.MCUSession
	c.r.Receive(wire.AppendRequest(nil, &c.header, &wire.Request{EchoMs: c.frame.Snapshot.StampMs}))
}

func TestPaceFollowsRealTimeWithoutDrift(t *testing.T) {
	c := newTalker(t, 1)
	for _, at := range []time.Duration{2 * ms, 4 * ms, 5 * ms, 400 * ms, 401 * ms, 1700 * ms} {
		c.at(at)
		if got := time.Duration(c.r.Ms()) * ms; got != at {
			t.Errorf("stands at %v after %v", got, at)
		}
	}
	c.request()
	c.at(1800 * ms)
	if due := c.at(3000 * ms); due != 1200 {
		t.Errorf("%d ms due at scale 1 with a silent host; 1,200: it never waits", due)
	}
	if due := c.at(9000 * ms); due != burstMs {
		t.Errorf("%d ms made up at one waking; at most %d", due, burstMs)
	}
}

// Scaled time stops 180 ms past the newest request, runs on after 1 s of
// real silence, and gives up what it has waited.
func TestScaledPaceWaitsForTheHost(t *testing.T) {
	c := newTalker(t, 10)
	if due := c.at(10 * ms); due != 100 {
		t.Fatalf("%d ms due before any word of a host; 100", due)
	}
	c.request()
	c.at(11 * ms)
	last, ok := c.r.RequestMs()
	if !ok {
		t.Fatal("request not accepted")
	}
	c.walk(11*ms, 150*ms)
	if got := c.r.Ms() - last; got != aheadMs {
		t.Errorf("%d ms past the request; %d", got, aheadMs)
	}
	c.walk(150*ms, 990*ms)
	if due := c.at(1000 * ms); due != 0 {
		t.Errorf("%d ms due while waiting", due)
	}
	if due := c.at(1012 * ms); due != 120 {
		t.Errorf("%d ms due at the end of the wait; 120: what was waited is given up", due)
	}
	c.at(1060 * ms)
	c.at(1062 * ms)
	if got := c.r.Ms() - last; got != aheadMs+120+480+20 {
		t.Errorf("%d ms past the request after a silence", got)
	}
}

// A request that comes while time stands must still cross the line, behind some
// that are too late, or host and rig would wait for each other until the
// silence ends.
func TestScaledTimeThatStandsLetsARequestArrive(t *testing.T) {
	c := newTalker(t, 10)
	c.at(10 * ms)
	c.request()
	c.walk(11*ms, 300*ms)
	last, _ := c.r.RequestMs()
	if due := c.at(302 * ms); due != 0 {
		t.Fatalf("%d ms due; time must stand for this test", due)
	}
	fresh := c.frame.Snapshot.StampMs
	c.frame.Snapshot.StampMs -= wire.MaxAgeMs
	for range 30 {
		c.request()
	}
	c.frame.Snapshot.StampMs = fresh
	c.request()
	c.walk(304*ms, 404*ms)
	now, _ := c.r.RequestMs()
	if now <= last || now > last+aheadMs+crossMs {
		t.Errorf("newest request at %d ms; one within %d ms of that at %d", now, aheadMs+crossMs, last)
	}
	if got := c.r.Ms() - now; got != aheadMs {
		t.Errorf("%d ms past the newest request; %d", got, aheadMs)
	}
}

// A host that has said hello is waited for as well: a flood of snapshots before
// its first request would leave it behind the sequence window for good.
func TestScaledPaceWaitsAfterAHello(t *testing.T) {
	c := newTalker(t, 10)
	c.at(10 * ms)
	c.walk(20*ms, 400*ms)
	at, ok := c.r.HostMs()
	if got := c.r.Ms() - at; !ok || got != aheadMs {
		t.Errorf("%d ms past the hello request, heard %v; %d", got, ok, aheadMs)
	}
}

// A bench that did not run itself has no silent host: it goes on waiting.
func TestScaledPaceForgivesItsOwnStall(t *testing.T) {
	c := newTalker(t, 10)
	c.at(10 * ms)
	c.request()
	c.walk(11*ms, 150*ms)
	if due := c.at(2150 * ms); due != 0 {
		t.Errorf("%d ms due after a stall of 2 s of its own", due)
	}
}

// walk looks every 10 ms.
func (c *talker) walk(from, to time.Duration) {
	for at := from; at <= to; at += 10 * ms {
		c.at(at)
	}
}

func TestScaledPaceDoesNotWaitUnderALineFault(t *testing.T) {
	c := newTalker(t, 10)
	c.at(10 * ms)
	c.request()
	c.at(11 * ms)
	if err := c.r.Inject(bench.Fault{Name: "line_cut"}); err != nil {
		t.Fatal(err)
	}
	c.at(12 * ms)
	if due := c.at(112 * ms); due != 1000 {
		t.Errorf("%d ms due with the line cut; 1,000", due)
	}
}

func TestCommands(t *testing.T) {
	r := mustRig(t)
	for _, c := range []struct{ line, says string }{
		{"press START", "ok"}, {"press START 300 ms", "ok"}, {"press RESET for 1s", "ok"},
		{"hold OPEN 2s", "ok"}, {"hold OPEN", "like \"hold OPEN 2s\""},
		{"press HOT", "START, RESET"}, {"press START soon", "error: "},
		{"door open", "ok"}, {"door ajar", "no command"}, {"estop press", "ok"}, {"estop release", "ok"},
		{"burner in", "ok"}, {"burner  clear", "ok"}, {"lever close", "ok"}, {"lever open", "ok"},
		{"lever rest", "ok"}, {"load", "ok"},
		{"fault flame_out @ glass>=700 for 5s", "ok"}, {"fault flood", "one of stuck"},
		{"faults", "ok flame_out @ glass>=700 C for 5000 ms"},
		{"clear flame_out", "ok"}, {"clear flame_out", "error: no fault"},
		{"piece", "thickness ["}, {"truth", `"door_open":true`}, {"reset mcu", "ok"}, {"truth", `"session":2`}, {"", "no command"},
	} {
		if got := Do(r, c.line); !strings.Contains(got, c.says) {
			t.Errorf("%q: %q does not say %q", c.line, got, c.says)
		}
	}
}

// Any line gives exactly one reply line and never more faults than there is
// room for.
func FuzzDo(f *testing.F) {
	for _, line := range strings.Split(Help, "\n") {
		f.Add(line)
	}
	f.Add("fault stuck flame on @ burner=run+1s for 2s")
	f.Fuzz(func(t *testing.T, line string) {
		r := mustRig(t)
		got := Do(r, line)
		if got == "" || strings.ContainsAny(got, "\n") {
			t.Fatalf("%q: reply %q", line, got)
		}
		r.Step()
		if len(r.Faults()) > bench.MaxFaults {
			t.Fatalf("%d faults", len(r.Faults()))
		}
	})
}

func TestMemory(t *testing.T) {
	path := filepath.Join(t.TempDir(), "nv")
	nv, err := LoadNV(path)
	if err != nil || *nv != *bench.NewNV() {
		t.Fatalf("memory of a new board %+v, %v", nv, err)
	}
	m, err := keep(path, bench.NV{Byte: warden.NVClear, Boots: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := m.save(bench.NV{Byte: warden.NVRunning, Boots: 7}); err != nil {
		t.Fatal(err)
	}
	if nv, err = LoadNV(path); err != nil || *nv != (bench.NV{Byte: warden.NVRunning, Boots: 7}) {
		t.Errorf("read back %+v, %v", nv, err)
	}
	if err := os.WriteFile(path, []byte("{\"byte\":9"), 0o600); err != nil {
		t.Fatal(err)
	}
	nv, err = LoadNV(path)
	if err != nil || nv.Byte == warden.NVClear || nv.Byte == warden.NVRunning {
		t.Errorf("torn memory reads as %+v, %v; it must lock out", nv, err)
	}
	if _, err := LoadNV(t.TempDir()); err == nil {
		t.Error("a folder was read as memory")
	}
	left, err := filepath.Glob(filepath.Join(filepath.Dir(path), ".nv-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind %v, %v", left, err)
	}
}
