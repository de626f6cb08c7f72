package panel

import (
	"errors"
	"fmt"
	"net"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

// Listen makes the socket at path: mode 0600, or 0660 with that group when
// group (a name or a number) is given. A socket that no daemon answers on any
// more is replaced; one that a daemon answers on is an error.
func Listen(path, group string) (net.Listener, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, fmt.Errorf("panel: folder of the socket: %w", err)
	}
	if err := clearStale(path); err != nil {
		return nil, err
	}
	l, err := listenPrivate(path)
	if err != nil {
		return nil, fmt.Errorf("panel: listen at %s: %w", path, err)
	}
	if group == "" {
		return l, nil
	}
	if err := giveGroup(path, group); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

// listenPrivate makes the socket with mode 0600 from its first moment; a chmod
// afterwards would leave a gap.
func listenPrivate(path string) (net.Listener, error) {
	old := unix.Umask(0o177)
	defer unix.Umask(old)
	return net.Listen("unix", path)
}

// clearStale removes a socket whose daemon is gone, and nothing else.
func clearStale(path string) error {
	info, err := os.Lstat(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("panel: socket: %w", err)
	}
	if info.Mode()&os.ModeSocket == 0 {
		return fmt.Errorf("panel: %s exists and is no socket; give another path", path)
	}
	c, err := net.DialTimeout("unix", path, time.Second)
	if err == nil {
		return errors.Join(fmt.Errorf("panel: a daemon already answers at %s", path), c.Close())
	}
	if err := os.Remove(path); err != nil {
		return fmt.Errorf("panel: stale socket: %w", err)
	}
	return nil
}

func giveGroup(path, group string) error {
	gid, err := strconv.Atoi(group)
	if err != nil {
		g, err := user.LookupGroup(group)
		if err != nil {
			return fmt.Errorf("panel: group of the socket: %w", err)
		}
		if gid, err = strconv.Atoi(g.Gid); err != nil {
			return fmt.Errorf("panel: group of the socket: %w", err)
		}
	}
	if err := os.Chown(path, -1, gid); err != nil {
		return fmt.Errorf("panel: group of the socket: %w", err)
	}
	if err := os.Chmod(path, 0o660); err != nil {
		return fmt.Errorf("panel: mode of the socket: %w", err)
	}
	return nil
}

// limited accepts at most n connections at a time. One more is told so and
// closed: left in the queue, its caller would not know what it waits for.
type limited struct {
	net.Listener
	free    chan struct{}
	turning chan struct{} // holds a token for each that is being turned away
}

const (
	// maxTurning bounds the connections that are told; any more are closed.
	maxTurning = 16
	// turnLongest is how long one may take to ask and to be told.
	turnLongest = 100 * time.Millisecond
)

func limit(l net.Listener, n int) net.Listener {
	return &limited{l, make(chan struct{}, n), make(chan struct{}, maxTurning)}
}

// busyBody is what a connection too many reads.
const busyBody = `{"code":"busy","message":"too many connections to the daemon",` +
	`"hint":"close a page or another follower"}` + "\n"

// Accept gives the next connection that there is room for.
func (l *limited) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		select {
		case l.free <- struct{}{}:
			return &limitedConn{Conn: c, free: l.free}, nil
		default:
			l.turnAway(c)
		}
	}
}

// turnAway answers and closes, without keeping the next caller waiting.
func (l *limited) turnAway(c net.Conn) {
	select {
	case l.turning <- struct{}{}:
		go func() {
			defer func() { <-l.turning }()
			sayBusy(c)
		}()
	default:
		_ = c.Close() // nothing was written that could be lost
	}
}

// sayBusy waits for the begin of the request: an answer that comes before it
// is no answer to a client. A broken connection fails at Write, unheard.
func sayBusy(c net.Conn) {
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(turnLongest))
	var some [512]byte
	_, _ = c.Read(some[:])
	_, _ = fmt.Fprintf(c, "HTTP/1.1 503 Service Unavailable\r\nContent-Type: application/json\r\n"+
		"Connection: close\r\nContent-Length: %d\r\n\r\n%s", len(busyBody), busyBody)
}

type limitedConn struct {
	net.Conn
	free chan struct{}
	once sync.Once
}

// Close gives the place back.
func (c *limitedConn) Close() error {
	err := c.Conn.Close()
	c.once.Do(func() { <-c.free })
	return err
}
