package benchport

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"golang.org/x/sys/unix"

	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// patience bounds every wait on data: far above any wait that is right.
const patience = 20 * time.Second

// TestMain serves a bench instead of testing when a test starts this program
// again as the bench to be killed.
func TestMain(m *testing.M) {
	if path := os.Getenv("BENCHPORT_CHILD_MEMORY"); path != "" {
		if err := child(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	goleak.VerifyTestMain(m)
}

func child(path string) error {
	r, err := newRig(path, 20)
	if err != nil {
		return err
	}
	return Serve(context.Background(), Options{Rig: r, Scale: 20, NVPath: path,
		Control: os.Stdin, Replies: os.Stdout, Ready: func(p string) { fmt.Println("pty", p) }})
}

// newRig is the built-in driven rig with a short check and purge.
func newRig(nvPath string, scale uint16) (*bench.Rig, error) {
	p, err := rig.Builtin("driven")
	if err != nil {
		return nil, err
	}
	c := p.WardenConfig()
	c.CheckMs, c.PurgeMs, c.PostPurgeMs = 500, 2000, 2000
	var nv *bench.NV
	if nvPath != "" {
		if nv, err = LoadNV(nvPath); err != nil {
			return nil, err
		}
	}
	return bench.New(bench.Options{Profile: p, Config: c, Seed: 3, Scale: scale, NV: nv})
}

// served is a bench under test.
type served struct {
	t     *testing.T
	path  string
	stop  func() error // ends Serve and gives its error
	lines io.Writer
	said  *bufio.Reader
}

// serve starts Serve and waits until it is ready.
func serve(t *testing.T, change func(*Options)) *served {
	t.Helper()
	r, err := newRig("", 1)
	if err != nil {
		t.Fatal(err)
	}
	lines, toBench := io.Pipe()
	fromBench, replies := io.Pipe()
	ready := make(chan string, 1)
	o := Options{Rig: r, Control: lines, Replies: replies, Ready: func(p string) { ready <- p }}
	if change != nil {
		change(&o)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, o) }()
	s := &served{t: t, lines: toBench, said: bufio.NewReader(fromBench)}
	stopped := false
	s.stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		cancel()
		err := <-done
		return errors.Join(err, toBench.Close(), fromBench.Close())
	}
	t.Cleanup(func() {
		if err := s.stop(); err != nil {
			t.Error(err)
		}
	})
	select {
	case s.path = <-ready:
	case err := <-done:
		t.Fatal("not served: ", err)
	}
	return s
}

// say sends one command line and returns the reply.
func (s *served) say(line string) string {
	s.t.Helper()
	if _, err := io.WriteString(s.lines, line+"\n"); err != nil {
		s.t.Fatal(err)
	}
	text, err := s.said.ReadString('\n')
	if err != nil {
		s.t.Fatal(err)
	}
	return strings.TrimSpace(text)
}

func (s *served) truth() bench.Truth {
	s.t.Helper()
	var truth bench.Truth
	if err := json.Unmarshal([]byte(s.say("truth")), &truth); err != nil {
		s.t.Fatal(err)
	}
	return truth
}

// The other end may hang up and come back; the bench goes on, its sessions
// tell the daemon what is new.
func TestHangUpAndComeBack(t *testing.T) {
	s := serve(t, nil)
	for session := uint32(10); session < 13; session++ {
		c := dial(t, s.path, session)
		c.snapshot(func(got *rig.Snapshot) bool { return got.Link == warden.LinkUp })
		if c.frame.MCUSession != 1 {
			t.Errorf("session %d of the board; 1", c.frame.MCUSession)
		}
		c.hangUp()
	}
}

// A daemon that was killed leaves its exclusive mark on the pty; the bench
// takes it back, so that the next one can open it.
func TestExclusiveMarkIsTakenBack(t *testing.T) {
	s := serve(t, nil)
	c := dial(t, s.path, 1)
	if err := unix.IoctlSetInt(int(c.f.Fd()), unix.TIOCEXCL, 0); err != nil {
		t.Fatal(err)
	}
	c.hangUp()
	f, err := os.OpenFile(s.path, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	for end := time.Now().Add(patience); time.Now().Before(end); s.truth() {
		marked, err := unix.IoctlGetInt(int(f.Fd()), unix.TIOCGEXCL)
		if err != nil {
			t.Fatal(err)
		}
		if marked == 0 {
			return
		}
	}
	t.Errorf("still marked after %v", patience)
}

// At scale 1 the board's clock never runs ahead of the real one. How far it
// may lag is the machine's load, not a fact to test.
func TestNeverRunsAheadOfRealTime(t *testing.T) {
	began := time.Now()
	s := serve(t, nil)
	c := dial(t, s.path, 1)
	defer c.hangUp()
	c.snapshot(func(got *rig.Snapshot) bool { return got.StampMs >= 500 })
	if real := time.Since(began).Milliseconds(); real < int64(c.stamp) {
		t.Errorf("the board stands at %d ms after %d ms", c.stamp, real)
	}
}

// Scaled time: hello says the scale, a light-up of 8 s takes far less, and
// while the host talks the leases never run out.
func TestScaledLightUp(t *testing.T) {
	r, err := newRig("", 20)
	if err != nil {
		t.Fatal(err)
	}
	s := serve(t, func(o *Options) { o.Rig, o.Scale = r, 20 })
	c := dial(t, s.path, 1)
	defer c.hangUp()
	if c.frame.Hello.Scale != 20 {
		t.Errorf("hello says scale %d; 20", c.frame.Hello.Scale)
	}
	c.light(func() {
		if got := s.say("press START"); got != "ok" {
			t.Errorf("press START: %s", got)
		}
	})
	c.snapshot(func(got *rig.Snapshot) bool { return got.Burner == warden.BurnerRun })
	if truth := s.truth(); !truth.Flame || truth.Trips != 0 {
		t.Errorf("truth %+v", truth)
	}
	if got := s.say("fault flame_out"); got != "ok" {
		t.Errorf("fault: %s", got)
	}
	c.snapshot(func(got *rig.Snapshot) bool {
		return got.First == warden.CauseFlameLost && !got.Drives(warden.OutFuel1)
	})
	// the host falls silent: after 1 s of real time the clock runs on and
	// the warden sees the link go
	c.quiet = true
	c.snapshot(func(got *rig.Snapshot) bool { return got.Link == warden.LinkDown })
}

// A host that does not read costs whole frames, never half ones, and does not
// stop the bench.
func TestFullPtyDropsWholeFrames(t *testing.T) {
	r, err := newRig("", 50)
	if err != nil {
		t.Fatal(err)
	}
	s := serve(t, func(o *Options) { o.Rig, o.Scale = r, 50 })
	c := dial(t, s.path, 1)
	f := c.f
	defer c.hangUp()
	for s.truth().Ms < 20000 { // 2,000 snapshots, ten times what a pty holds
	}
	if err := f.SetReadDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	var split wire.Splitter
	var frame wire.Frame
	buf, good := make([]byte, 4096), 0
	first, last := uint32(0), uint32(0)
	for good < 400 {
		n, err := f.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range buf[:n] {
			raw, whole := split.Feed(b)
			if !whole {
				continue
			}
			if v := wire.Decode(raw, wire.FromMCU, &frame); v != wire.Accepted {
				t.Fatalf("frame %d is %v", good, v)
			}
			good++
			if frame.Class == wire.ClassSnapshot {
				first, last = or(first, frame.Snapshot.StampMs), frame.Snapshot.StampMs
			}
		}
	}
	if last-first < 10*400+1000 {
		t.Errorf("stamps %d to %d in %d frames: nothing was dropped", first, last, good)
	}
}

func or(v, fallback uint32) uint32 {
	if v == 0 {
		return fallback
	}
	return v
}

func TestCommandsOverASocket(t *testing.T) {
	path := filepath.Join(t.TempDir(), "control")
	s := serve(t, func(o *Options) { o.Socket = path })
	conn, err := net.Dial("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close() }()
	if err := conn.SetDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	in := bufio.NewReader(conn)
	for _, c := range []struct{ line, says string }{
		{"estop press", "ok"}, {"truth", `"estop":true`}, {"nonsense", "error: no command"},
	} {
		fmt.Fprintln(conn, c.line)
		got, err := in.ReadString('\n')
		if err != nil || !strings.Contains(got, c.says) {
			t.Errorf("%s: %q, %v; %q", c.line, got, err, c.says)
		}
	}
	if err := Serve(context.Background(), Options{Rig: mustRig(t), Socket: path}); err == nil {
		t.Error("a second bench took the socket of the first")
	}
	if err := s.stop(); err != nil {
		t.Error(err)
	}
	if _, err := os.Lstat(path); !os.IsNotExist(err) {
		t.Errorf("socket left behind: %v", err)
	}
}

func mustRig(t *testing.T) *bench.Rig {
	t.Helper()
	r, err := newRig("", 1)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestServeRefuses(t *testing.T) {
	file := filepath.Join(t.TempDir(), "precious")
	if err := os.WriteFile(file, []byte("data"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, o := range map[string]Options{
		"no rig":            {},
		"scale":             {Rig: mustRig(t), Scale: 1001},
		"bad fault":         {Rig: mustRig(t), Faults: []bench.Fault{{Name: "flood"}}},
		"link is a file":    {Rig: mustRig(t), Link: file},
		"socket is a file":  {Rig: mustRig(t), Socket: file},
		"memory in no path": {Rig: mustRig(t), NVPath: filepath.Join(file, "nv")},
	} {
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		if err := Serve(ctx, o); err == nil {
			t.Errorf("%s: served", name)
		}
		cancel()
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != "data" {
		t.Errorf("the file is %q, %v now", text, err)
	}
}

func TestLinkIsReplacedAndRemoved(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rig")
	if err := os.Symlink("/nowhere", path); err != nil {
		t.Fatal(err)
	}
	s := serve(t, func(o *Options) { o.Link = path })
	if got, err := os.Readlink(path); err != nil || got != s.path {
		t.Errorf("link to %q, %v; %q", got, err, s.path)
	}
	dial(t, path, 1).hangUp()
	if err := s.stop(); err != nil {
		t.Error(err)
	}
	if _, err := os.Lstat(path); !os.IsNotExist(err) {
		t.Errorf("link left behind: %v", err)
	}
}

// SV-029 by SIGKILL: a bench killed in the middle of a light-up comes up
// locked out, with a new session.
func TestKilledInLightUpBootsLockedOut(t *testing.T) {
	memory := filepath.Join(t.TempDir(), "nv")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "BENCHPORT_CHILD_MEMORY="+memory)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	c := dial(t, strings.TrimSpace(strings.TrimPrefix(line, "pty ")), 1)
	c.light(func() { fmt.Fprintln(in, "press START") })
	c.snapshot(func(got *rig.Snapshot) bool { return got.Drives(warden.OutFuel1) })
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil {
		t.Error("the killed bench ended well")
	}
	c.hangUp()
	r, err := newRig(memory, 1)
	if err != nil {
		t.Fatal(err)
	}
	truth := r.Truth()
	if truth.Lock != warden.LockLockout || truth.First != warden.CauseRestart || truth.Session != 2 {
		t.Errorf("lock %d by %d, session %d; lockout by %d, session 2",
			truth.Lock, truth.First, truth.Session, warden.CauseRestart)
	}
}
