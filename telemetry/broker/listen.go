package broker

import (
	"crypto/tls"
	"errors"
	"net"
	"sync"
	"time"
)

// acceptPause keeps a failing accept (no free descriptors) from spinning.
const acceptPause = 100 * time.Millisecond

// gate accepts at most MaxClients connections at a time and gives each a
// deadline for its CONNECT: the library counts clients only after that.
type gate struct {
	net.Listener
	counters *counters
	free     chan struct{} // one token a connection that may still come
	closed   chan struct{}
	once     sync.Once
}

// listen opens the listener that Options ask for.
func listen(o *Options, c *counters) (*gate, error) {
	l := o.Listener
	if l == nil {
		var err error
		if l, err = net.Listen("tcp", o.Listen); err != nil {
			return nil, err
		}
	}
	if o.TLS != nil {
		l = tls.NewListener(l, o.TLS)
	}
	g := &gate{Listener: l, counters: c, free: make(chan struct{}, MaxClients),
		closed: make(chan struct{})}
	for range MaxClients {
		g.free <- struct{}{}
	}
	return g, nil
}

// Accept gives the next connection; those over the limit are closed at once.
func (g *gate) Accept() (net.Conn, error) {
	for {
		conn, err := g.Listener.Accept()
		if err != nil {
			if g.over(err) {
				return nil, net.ErrClosed
			}
			continue
		}
		select {
		case <-g.free:
			_ = conn.SetDeadline(time.Now().Add(connectLongest))
			return &held{Conn: conn, gate: g}, nil
		default:
			g.counters.connections.Add(1)
			_ = conn.Close()
		}
	}
}

// over reports whether the listener is closed; after any other error it pauses.
func (g *gate) over(err error) bool {
	if errors.Is(err, net.ErrClosed) {
		return true
	}
	select {
	case <-g.closed:
		return true
	case <-time.After(acceptPause):
		return false
	}
}

// Close ends the listener; connections have their own.
func (g *gate) Close() error {
	g.once.Do(func() { close(g.closed) })
	return g.Listener.Close()
}

// held is a connection that gives its token back when it is closed.
type held struct {
	net.Conn
	gate *gate
	once sync.Once
}

// Close closes the connection and frees its place.
func (h *held) Close() error {
	err := h.Conn.Close()
	h.once.Do(func() { h.gate.free <- struct{}{} })
	return err
}
