package wire

// Limits of a receiver.
const (
	// MaxAhead is how far ahead a sequence number may be: half a second of
	// frames at 100 Hz, the life of a lease. Anything else is refused.
	MaxAhead uint16 = 50
	// MaxAgeMs is the greatest age of a request, by the stamp it echoes.
	MaxAgeMs uint32 = 200
	// SilentMs without an accepted frame makes a pair stale: all leases are
	// dead, and the next hello of the pair may set the sequence anew.
	SilentMs uint32 = 500
)

// Receiver applies the rules by which one side takes or refuses frames:
// corruption, device, sessions, sequence, age. Make it with NewHostReceiver or
// NewMCUReceiver. One goroutine uses it.
type Receiver struct {
	// Counts has how many frames got each verdict, wraps.
	Counts [NumVerdict]uint32
	// Gaps is how many sequence numbers were missing between accepted frames.
	Gaps uint32
	// Budget is charged for each frame that is Corrupt or BadValue.
	Budget Budget
	// Opened says that the frame just accepted was a hello that opened a new
	// pair of sessions or revived a stale one. On the microcontroller only
	// NewSession ends the leases.
	Opened bool
	// NewSession says that the frame just accepted came from a peer session
	// that was not the established one.
	NewSession bool

	from   Direction // whose frames it takes
	device uint16
	own    uint32 // own session
	peer   uint32 // established session of the other side, 0 none
	seq    uint16 // of the newest frame taken
	heard  uint32 // ms, when a frame was last accepted
}

// NewHostReceiver is for the daemon: it takes frames of the microcontroller
// device, once that has answered a hello request of hostSession.
func NewHostReceiver(device uint16, hostSession uint32) Receiver {
	return Receiver{from: FromMCU, device: device, own: hostSession}
}

// NewMCUReceiver is for the microcontroller (and the bench): it takes frames
// for device, once a host has sent a hello request.
func NewMCUReceiver(device uint16, mcuSession uint32) Receiver {
	return Receiver{from: FromHost, device: device, own: mcuSession}
}

// Peer is the established session of the other side, 0 before a hello.
func (r *Receiver) Peer() uint32 { return r.peer }

// Seq is the sequence number of the newest frame taken.
func (r *Receiver) Seq() uint16 { return r.seq }

// Bad is how many frames have charged the budget, wraps.
func (r *Receiver) Bad() uint32 { return r.Counts[Corrupt] + r.Counts[BadValue] }

// Silent reports whether nothing was accepted for SilentMs.
func (r *Receiver) Silent(nowMs uint32) bool {
	return r.peer == 0 || nowMs-r.heard >= SilentMs
}

// Take judges the bytes between two delimiters (nil: over-long) at nowMs. On
// the microcontroller nowMs is the clock that stamps snapshots. Unless the
// verdict is Accepted nothing of f may be used, save its header to see who
// sends frames of a wrong session.
func (r *Receiver) Take(raw []byte, nowMs uint32, f *Frame) Verdict {
	r.Opened, r.NewSession = false, false
	v := Decode(raw, r.from, f)
	if v == Accepted {
		v = r.judge(f, nowMs)
	}
	r.Counts[v]++
	switch v {
	case Corrupt, BadValue:
		r.Budget.Charge(nowMs)
	case Accepted:
		r.heard = nowMs
	}
	return v
}

func (r *Receiver) judge(f *Frame, nowMs uint32) Verdict {
	if f.Device != r.device {
		return WrongDevice
	}
	own, peer := f.HostSession, f.MCUSession
	if r.from == FromHost {
		own, peer = peer, own
	}
	switch f.Class {
	case ClassHello, ClassHelloRequest:
		return r.judgeHello(f, peer, own, nowMs)
	}
	if r.peer == 0 || own != r.own || peer != r.peer {
		return WrongSession
	}
	if v := r.advance(f.Seq); v != Accepted {
		return v
	}
	if f.Class == ClassRequest && nowMs-f.Request.EchoMs > MaxAgeMs {
		return Late
	}
	return Accepted
}

// judgeHello lets a hello open a pair. A hello request cannot know our session
// yet, so that 0 will do there; a hello must answer our own request. Within a
// live pair a hello is a frame like any other and obeys the sequence.
func (r *Receiver) judgeHello(f *Frame, peer, own, nowMs uint32) Verdict {
	unknown := own == 0 && f.Class == ClassHelloRequest
	if peer == 0 || own != r.own && !unknown {
		return WrongSession
	}
	if peer == r.peer && !r.Silent(nowMs) {
		return r.advance(f.Seq)
	}
	r.NewSession = peer != r.peer
	r.Opened = true
	r.peer = peer
	r.seq = f.Seq
	return Accepted
}

// advance takes the next sequence number or refuses it.
func (r *Receiver) advance(seq uint16) Verdict {
	ahead := seq - r.seq
	switch {
	case ahead == 0:
		return Repeated
	case ahead > MaxAhead:
		return OutOfOrder
	}
	r.Gaps += uint32(ahead - 1)
	r.seq = seq
	return Accepted
}
