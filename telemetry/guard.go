package telemetry

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"sync/atomic"
	"time"
)

// What a broker may send us. The client library allocates whatever length a
// packet announces (up to 256 MB) and indexes by a SUBACK's codes without a
// check, so a hostile or broken broker could exhaust memory or stop the daemon
// in mid-cycle. The guard stands between them.
const (
	maxIncoming = 4096 // bytes of a PUBLISH to us; we read none of it
	maxUnasked  = 1000 // packets that answer nothing of ours, at a time
	maxLength   = 4    // bytes of a remaining length, MQTT 3.1.1 section 2.2.3

	writeLongest = 5 * time.Second // a write that takes longer means a dead link
)

// Packet types of MQTT 3.1.1 section 2.2.1, with their flags.
const (
	packetConnack  = 0x20
	packetPublish0 = 0x30 // QoS 0, neither duplicate nor retained
	packetRetained = 0x31
	packetPuback   = 0x40
	packetSuback   = 0x90
	packetPingresp = 0xD0
)

var errFlood = errors.New("broker floods: too many packets that answer nothing")

// guard is a connection that lets through only the packets that a broker has
// reason to send to this client, each with the length it must have. Anything
// else ends the connection.
type guard struct {
	net.Conn
	in      *bufio.Reader
	head    []byte // checked header bytes not yet read
	store   [1 + maxLength]byte
	left    int // body bytes not yet read
	unasked atomic.Int64
}

func newGuard(c net.Conn) *guard {
	return &guard{Conn: c, in: bufio.NewReaderSize(c, maxIncoming)}
}

// Read gives the next bytes of packets that passed.
func (g *guard) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	if len(g.head) == 0 && g.left == 0 {
		if err := g.readHeader(); err != nil {
			return 0, err
		}
	}
	if len(g.head) > 0 {
		n := copy(p, g.head)
		g.head = g.head[n:]
		return n, nil
	}
	n, err := g.in.Read(p[:min(len(p), g.left)])
	g.left -= n
	return n, err
}

// Write counts what we ask and never hangs on a peer that reads no more.
func (g *guard) Write(p []byte) (int, error) {
	if g.unasked.Load() > 0 {
		g.unasked.Add(-1)
	}
	if err := g.SetWriteDeadline(time.Now().Add(writeLongest)); err != nil {
		return 0, err
	}
	return g.Conn.Write(p)
}

func (g *guard) readHeader() error {
	kind, err := g.in.ReadByte()
	if err != nil {
		return err
	}
	g.store[0] = kind
	n := 1
	for more := true; more; n++ {
		if n > maxLength {
			return errors.New("broker sends a remaining length of more than 4 bytes")
		}
		b, err := g.in.ReadByte()
		if err != nil {
			return err
		}
		g.store[n], more = b, b&0x80 != 0
	}
	length := remainingLength(g.store[1:n])
	if err := permitted(kind, length); err != nil {
		return err
	}
	if g.unasked.Add(1) > maxUnasked {
		return errFlood
	}
	g.head, g.left = g.store[:n], length
	return nil
}

// remainingLength decodes MQTT's variable length, 7 bits a byte, lowest first.
func remainingLength(b []byte) (n int) {
	for i := len(b) - 1; i >= 0; i-- {
		n = n<<7 | int(b[i]&0x7F)
	}
	return n
}

// permitted refuses packets that have no reason to come or a wrong length. We
// subscribe at QoS 0 to one topic at a time, so a SUBACK has one code and no
// PUBLISH has a packet id.
func permitted(kind byte, length int) error {
	ok := false
	switch kind {
	case packetConnack, packetPuback:
		ok = length == 2
	case packetSuback:
		ok = length == 3
	case packetPingresp:
		ok = length == 0
	case packetPublish0, packetRetained:
		ok = length >= 2 && length <= maxIncoming
	}
	if !ok {
		return fmt.Errorf("broker sends packet 0x%02x of %d bytes, which it has no reason to",
			kind, length)
	}
	return nil
}
