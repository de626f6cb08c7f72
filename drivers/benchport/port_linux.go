package benchport

import (
	"errors"
	"fmt"
	"os"
	"slices"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// readMost is how much is read at once: more than the line brings in a slice.
const readMost = 4096

// port is the master side of a pty whose slave is kept open, so that the other
// end can hang up and come back.
type port struct {
	path          string
	master, slave *os.File
	fd            int
	reads         uint8
	rest          []byte // of a frame that was written in part
	dropped       uint64 // whole frames that the full pty did not take
	in            [readMost]byte
}

// openPort makes a pty in raw mode: every byte passes as it is.
func openPort() (*port, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("open a pty: %w", err)
	}
	p := &port{path: slave.Name(), master: master, slave: slave, fd: int(master.Fd())}
	if err := makeRaw(int(slave.Fd())); err != nil {
		return nil, errors.Join(fmt.Errorf("make %s raw: %w", p.path, err), p.close())
	}
	if err := unix.SetNonblock(p.fd, true); err != nil {
		return nil, errors.Join(fmt.Errorf("make the pty not block: %w", err), p.close())
	}
	return p, nil
}

func makeRaw(fd int) error {
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return err
	}
	t.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR |
		unix.IGNCR | unix.ICRNL | unix.IXON
	t.Oflag &^= unix.OPOST
	t.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	t.Cflag = t.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, unix.TCSETS, t)
}

// read appends what the other end has sent, without waiting.
func (p *port) read(dst []byte) ([]byte, error) {
	if p.reads++; p.reads == 0 {
		p.free()
	}
	n, err := unix.Read(p.fd, p.in[:])
	switch {
	case err == nil && n > 0:
		return append(dst, p.in[:n]...), nil
	case err == nil, again(err):
		return dst, nil
	}
	return dst, err
}

// free takes back an exclusive mark on the pty. A daemon sets one while it has
// the port open; killed, it leaves the mark behind, because our own slave side
// keeps the pty alive, and nobody but root could open it again.
func (p *port) free() {
	_ = unix.IoctlSetInt(int(p.slave.Fd()), unix.TIOCNXCL, 0) // else as before
}

// again: nothing wrong, only nothing to be done now. EIO is a slave side that
// nobody has open, which comes back.
func again(err error) bool {
	return errors.Is(err, unix.EAGAIN) || errors.Is(err, unix.EINTR) || errors.Is(err, unix.EIO)
}

// write sends whole frames. What a full pty does not take is dropped, from the
// next delimiter on: a frame that was begun is finished first.
func (p *port) write(frames []byte) error {
	if len(p.rest) > 0 {
		n, err := p.writeSome(p.rest)
		p.rest = p.rest[n:]
		if err != nil {
			return err
		}
	}
	if len(p.rest) > 0 {
		p.drop(frames)
		return nil
	}
	n, err := p.writeSome(frames)
	if err != nil || n == len(frames) {
		return err
	}
	end := n
	if n > 0 && frames[n-1] != 0 {
		end = n + slices.Index(frames[n:], 0) + 1
	}
	p.rest = slices.Clone(frames[n:end])
	p.drop(frames[end:])
	return nil
}

func (p *port) writeSome(b []byte) (int, error) {
	if len(b) == 0 {
		return 0, nil
	}
	n, err := unix.Write(p.fd, b)
	if err != nil && !again(err) {
		return 0, err
	}
	return max(n, 0), nil
}

func (p *port) drop(frames []byte) {
	for _, b := range frames {
		if b == 0 {
			p.dropped++
		}
	}
}

func (p *port) close() error { return errors.Join(p.master.Close(), p.slave.Close()) }
