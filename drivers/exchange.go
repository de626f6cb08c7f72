package drivers

import (
	"errors"
	"fmt"
	"time"

	"pressrig/drivers/wire"
)

// ms is the receiver's clock, milliseconds since Open, wraps.
func (s *Serial) ms(now time.Time) uint32 {
	return uint32(now.Sub(s.started) / time.Millisecond)
}

// receive judges one frame and reports it. Only the reader of l calls it.
func (s *Serial) receive(l *link, raw []byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.link != l {
		return // the line was given up meanwhile
	}
	now := s.opts.Now()
	r := Report{At: now}
	f := &s.frame
	v := s.receiver.Take(raw, s.ms(now), f)
	if s.refuse(v, f) {
		return
	}
	switch v {
	case wire.Accepted:
		s.accept(f, &r)
	case wire.Corrupt, wire.BadValue:
		r.Kind, r.Noisy = ReportBad, s.receiver.Budget.Tripped()
	case wire.WrongSession:
		// A microcontroller that has just started knows no host yet.
		if f.Class == wire.ClassHello && !s.halted {
			s.askHello(now)
		}
	case wire.WrongDevice:
		if f.Class == wire.ClassHello && !s.up && !errors.Is(s.downErr, ErrDevice) {
			s.setDown(fmt.Errorf("%w: number %d, the profile wants %d",
				ErrDevice, f.Device, s.opts.Device))
		}
	}
	if r.Kind != 0 {
		s.queue.put(&r)
	}
}

// refuse tells of a board that can never be talked to: one whose start failed,
// which says so unasked and under any device number, or one with a protocol of
// another version.
func (s *Serial) refuse(v wire.Verdict, f *wire.Frame) bool {
	switch v {
	case wire.BadVersion:
		if f.Class == wire.ClassHello {
			s.setDown(fmt.Errorf("%w; this one is version %d: write the program of this release with pressrig flash",
				ErrProtocol, wire.Version))
		}
		return true
	case wire.Accepted, wire.WrongSession, wire.WrongDevice, wire.Repeated:
		if f.Class != wire.ClassHello {
			return false
		}
		why := wire.StartFault(f.Capabilities().Firmware)
		if why != "" {
			s.setDown(fmt.Errorf("%w (%s): %s", ErrStart, f.Capabilities().Firmware, why))
		}
		return why != ""
	}
	return false
}

// accept turns an accepted frame into a report; Kind stays 0 when there is
// nothing to tell. Frames of a pair that went silent wait for a hello.
func (s *Serial) accept(f *wire.Frame, r *Report) {
	if !s.up && f.Class != wire.ClassHello {
		return
	}
	switch f.Class {
	case wire.ClassHello:
		s.acceptHello(f, r)
	case wire.ClassSnapshot:
		s.stampMs = f.Snapshot.StampMs
		if f.Snapshot.EchoSeq != s.echoSeq {
			s.echoSeq, s.echoAt = f.Snapshot.EchoSeq, r.At
		}
		r.Kind, r.Snap = ReportSnapshot, f.Snapshot
	case wire.ClassEvent:
		s.stampMs = f.Event.StampMs
		if !s.events.allow(r.At) {
			s.stats.Storm++
			return
		}
		r.Kind, r.Event, r.Value = ReportEvent, f.Event.Code, f.Event.Value
	case wire.ClassParameters:
		s.config.Take(&f.Parameters)
	}
}

// acceptHello makes the link live, or refuses the rig that answered. It tells
// of a link that was down and of a microcontroller that has restarted.
func (s *Serial) acceptHello(f *wire.Frame, r *Report) {
	s.stampMs = f.Hello.StampMs
	if f.Hello.Scale != 1 && !s.opts.Simulated {
		if s.up || s.downErr != ErrScaled {
			r.Kind, r.Err = ReportDown, ErrScaled
		}
		s.up, s.downErr = false, ErrScaled
		return
	}
	if s.up && !s.receiver.NewSession {
		return
	}
	s.up, s.downErr = true, nil
	s.caps = f.Capabilities()
	s.config, s.asked = wire.ConfigReader{}, 0
	s.echoAt = r.At
	s.link.box.clear()
	r.Kind, r.Caps = ReportHello, s.caps
}

// encode makes the bytes of one frame as late as possible, so that a request
// echoes the newest stamp. It makes none after Halt, nor of a request that was
// meant for another session. Only the writer calls it. A hello request begins
// with a delimiter, which ends whatever stood half sent on the line.
func (s *Serial) encode(dst []byte, j *job) []byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	request := j.class == wire.ClassRequest
	if s.halted || request && (!s.up || j.session != s.receiver.Peer()) {
		return dst
	}
	h := wire.Header{
		Device:      s.opts.Device,
		MCUSession:  s.receiver.Peer(),
		HostSession: s.opts.HostSession,
		Seq:         s.seq,
	}
	s.seq++
	s.stats.Sent++
	switch {
	case request:
		s.markSent()
		s.outgoing = wire.Request{EchoMs: s.stampMs, Want: j.request}
		return wire.AppendRequest(dst, &h, &s.outgoing)
	case j.class == wire.ClassHelloRequest:
		h.MCUSession = 0
		return wire.AppendHelloRequest(append(dst, 0), &h)
	}
	return wire.AppendParametersRequest(dst, &h, j.piece)
}

// markSent notes that a request leaves now. After a pause the wait for the
// microcontroller's answer begins anew.
func (s *Serial) markSent() {
	now := s.opts.Now()
	if now.Sub(s.sentAt) >= silent {
		s.echoAt = now
	}
	s.sentAt = now
}
