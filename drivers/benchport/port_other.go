//go:build !linux

package benchport

import "errors"

// port is missing on this system.
type port struct{ path string }

var errNoPort = errors.New("the bench's pty works on Linux only; rehearse runs everywhere")

func openPort() (*port, error)                  { return nil, errNoPort }
func (p *port) read(dst []byte) ([]byte, error) { return dst, errNoPort }
func (p *port) write([]byte) error              { return errNoPort }
func (p *port) close() error                    { return nil }
