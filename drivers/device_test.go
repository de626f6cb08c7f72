package drivers

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"go.bug.st/serial"
	"golang.org/x/sys/unix"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// deadline is only for tests that fail: nothing waits for it otherwise.
const deadline = 20 * time.Second

// realBoard is a board on a real pseudo terminal. Its end does not block the
// thread, so that closing it ends a read.
func realBoard(t *testing.T, session uint32) (b *board, path string) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	fd, err := unix.Dup(int(master.Fd()))
	if err != nil {
		t.Fatal(err)
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		t.Fatal(err)
	}
	conn := os.NewFile(uintptr(fd), "pty")
	t.Cleanup(func() {
		conn.Close()
		slave.Close()
	})
	return newBoard(t, conn, session), slave.Name()
}

func openReal(t *testing.T, path string) *Serial {
	t.Helper()
	s, err := Open(Options{Path: path, Baud: 250000, Device: testDevice, HostSession: testHost,
		Simulated: true, LockDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The whole way over a real pty: hello, snapshot in, request out, unplug.
func TestOverARealPty(t *testing.T) {
	b, path := realBoard(t, testMCU)
	go b.listen()
	s := openReal(t, path)
	await(t, s, ReportHello, deadline)
	b.snapshot(rig.Snapshot{StampMs: stampNow(), In: warden.InEstopOK | warden.InFlame})
	if r := await(t, s, ReportSnapshot, deadline); r.Snap.In != warden.InEstopOK|warden.InFlame {
		t.Errorf("snapshot %+v", r.Snap)
	}
	if err := s.Send(fuelRequest(1234)); err != nil {
		t.Fatal(err)
	}
	// The board keeps what it got; there is nothing to wait on but that.
	for end := time.After(deadline); ; {
		if got := b.requests(); len(got) > 0 {
			if got[0].Want.FuelMl != 1234 {
				t.Errorf("request %+v", got[0])
			}
			break
		}
		select {
		case <-end:
			t.Fatal("the request did not arrive")
		case <-time.After(time.Millisecond):
		}
	}
	b.conn.Close()
	if r := await(t, s, ReportDown, deadline); !errors.Is(r.Err, ErrUnplug) {
		t.Errorf("down because of %v, want %v", r.Err, ErrUnplug)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	<-b.done
}

// A pty that nobody reads takes some 4 kB, then a write hangs for good.
func TestHungWriteOnARealPty(t *testing.T) {
	b, path := realBoard(t, testMCU)
	s := openReal(t, path)
	l := liveLink(t, s)
	if l == nil {
		return
	}
	b.hello(testHost) // the only word of a board that hears nothing
	for hung := false; !hung; {
		select {
		case r := <-s.Reports():
			hung = r.Kind == ReportDown && errors.Is(r.Err, ErrHung)
		case <-time.After(100 * time.Microsecond):
			s.mu.Lock()
			if s.link != nil { // as a fault would: far more than a line can take
				s.link.box.askHello()
			}
			s.mu.Unlock()
		}
	}
	b.conn.Close()
	select {
	case <-l.closed: // the write came back
	case <-time.After(deadline):
		t.Error("the line was not closed after the unplug")
	}
	if err := s.Close(); err != nil {
		t.Errorf("close after the unplug: %v", err)
	}
}

func liveLink(t *testing.T, s *Serial) *link {
	t.Helper()
	for end := time.Now().Add(deadline); time.Now().Before(end); {
		s.mu.Lock()
		l := s.link
		s.mu.Unlock()
		if l != nil {
			return l
		}
		<-time.After(time.Millisecond)
	}
	t.Error("the line was not opened")
	return nil
}

// Trap 4: a second process (or a second Open) must not command the same rig,
// whatever name it uses for the device.
func TestSecondOpenIsRefused(t *testing.T) {
	b, path := realBoard(t, testMCU)
	go b.listen()
	alias := filepath.Join(t.TempDir(), "rig")
	if err := os.Symlink(path, alias); err != nil {
		t.Fatal(err)
	}
	o := Options{Path: path, Baud: 250000, Device: testDevice, HostSession: testHost,
		Simulated: true, LockDir: t.TempDir()}
	first, err := Open(o)
	if err != nil {
		t.Fatal(err)
	}
	o.Path = alias
	if second, err := Open(o); !errors.Is(err, ErrLocked) {
		t.Errorf("second open: %v, %v; want %v", second, err, ErrLocked)
	} else if !strings.Contains(err.Error(), "lock file "+o.LockDir) {
		t.Errorf("%q does not name the lock file", err)
	}
	if err := first.Close(); err != nil {
		t.Error(err)
	}
	third, err := Open(o)
	if err != nil {
		t.Fatalf("open after close: %v", err)
	}
	third.Close()
	b.conn.Close()
	<-b.done
}

func TestLockRefusesLinksAndMissingFolders(t *testing.T) {
	dir := t.TempDir()
	if err := os.Symlink("/dev/null", filepath.Join(dir, "pressrig-dev_x.lock")); err != nil {
		t.Fatal(err)
	}
	if _, err := lockDevice(dir, "/dev/x"); err == nil {
		t.Error("a lock file that is a link was taken")
	}
	if _, err := lockDevice(filepath.Join(dir, "none"), "/dev/x"); err == nil {
		t.Error("a lock in a missing folder was taken")
	}
}

func TestPtyNeedsASimulatedProfile(t *testing.T) {
	_, path := realBoard(t, testMCU)
	_, err := Open(Options{Path: path, Baud: 250000, HostSession: testHost, LockDir: t.TempDir()})
	if !errors.Is(err, ErrNotSimulated) {
		t.Errorf("%v, want %v", err, ErrNotSimulated)
	}
}

func TestMissingPathIsDownNotAnError(t *testing.T) {
	s, err := Open(Options{Path: filepath.Join(t.TempDir(), "gone"), Baud: 250000,
		HostSession: testHost, LockDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	if r := await(t, s, ReportDown, deadline); !errors.Is(r.Err, os.ErrNotExist) {
		t.Errorf("down because of %v", r.Err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// What is no serial device is refused by the system, never taken.
func TestNoTerminalIsDown(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := Open(Options{Path: file, Baud: 250000, HostSession: testHost, LockDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	var failed *serial.PortError
	if r := await(t, s, ReportDown, deadline); !errors.As(r.Err, &failed) {
		t.Errorf("down because of %v", r.Err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// manyFiles opens files until the next number would be at least n.
func manyFiles(t *testing.T, n uintptr) {
	t.Helper()
	for {
		f, err := os.Open(os.DevNull)
		if err != nil {
			t.Fatalf("this test needs %d open files: %v", n, err)
		}
		t.Cleanup(func() { f.Close() })
		if f.Fd() >= n {
			return
		}
	}
}

// Trap 1: a descriptor past 1023 makes the library panic in the reader.
func TestTooManyOpenFilesIsAnError(t *testing.T) {
	_, path := realBoard(t, testMCU)
	manyFiles(t, maxDescriptor-descriptorsNeeded)
	if err := checkDescriptors(); err != nil {
		t.Errorf("the last four numbers below 1000 are free: %v", err)
	}
	manyFiles(t, maxDescriptor-descriptorsNeeded+1)
	o := Options{Path: path, Baud: 250000, HostSession: testHost, Simulated: true,
		LockDir: t.TempDir()}
	_, err := Open(o)
	if !errors.Is(err, ErrDescriptors) {
		t.Fatalf("with numbers below 1000 used up: %v, want %v", err, ErrDescriptors)
	}
	if lock, err := lockDevice(o.LockDir, path); err != nil {
		t.Errorf("the refused open kept its lock: %v", err)
	} else {
		lock.Close()
	}
	manyFiles(t, 1030)
	port, err := openPort(path, 250000, true)
	if !errors.Is(err, ErrDescriptors) {
		t.Errorf("past 1024, check passed by: %v, %v; want %v", port, err, ErrDescriptors)
	}
}

func TestPortsFromSysfs(t *testing.T) {
	root := t.TempDir()
	class, links := filepath.Join(root, "class"), filepath.Join(root, "by-id")
	usb := filepath.Join(root, "devices", "1-2")
	write := func(text string, name ...string) {
		path := filepath.Join(name...)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	link := func(to string, name ...string) {
		path := filepath.Join(name...)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(to, path); err != nil {
			t.Fatal(err)
		}
	}
	write("1d50\n", usb, "idVendor")
	write("60a1\n", usb, "idProduct")
	write("demo board\n", usb, "product")
	write("0007\n", usb, "serial")
	write("", usb, "1-2:1.0", "x")
	write("", root, "devices", "onboard", "x")
	link(filepath.Join(usb, "1-2:1.0"), class, "ttyACM0", "device")
	link("../../ttyACM0", links, "usb-demo_board_0007-if00")
	link(filepath.Join(root, "devices", "onboard"), class, "ttyS0", "device")
	write("4\n", class, "ttyS0", "type")
	link(filepath.Join(root, "devices", "onboard"), class, "ttyS1", "device")
	write("0\n", class, "ttyS1", "type") // a place without a port
	write("", class, "tty7", "x")        // a console

	got, err := sysfsPorts(class, links)
	want := []PortInfo{
		{Path: "/dev/ttyACM0", Stable: filepath.Join(links, "usb-demo_board_0007-if00"),
			USB: "1d50:60a1", Product: "demo board", Serial: "0007"},
		{Path: "/dev/ttyS0"},
	}
	if err != nil || len(got) != len(want) {
		t.Fatalf("got %+v, %v", got, err)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("port %d: got %+v, want %+v", i, got[i], want[i])
		}
	}
	if _, err := sysfsPorts(filepath.Join(root, "none"), links); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing folder: %v", err)
	}
	if _, err := Ports(); err != nil {
		t.Errorf("this computer's ports: %v", err)
	}
}

// wire is named here so that the frame size the limits stand on is checked.
func TestOneReadHoldsFourSnapshots(t *testing.T) {
	if n := readBytes / wire.ClassSnapshot.WireBytes(); n < 4 {
		t.Errorf("a read takes %d snapshots", n)
	}
}
