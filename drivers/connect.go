package drivers

import (
	"errors"
	"fmt"
	"time"
)

// run keeps the line open until Close: the only place that opens, watches and
// gives up a line.
func (s *Serial) run(line Line, err error) {
	defer close(s.done)
	backoff := backoffFirst
	for {
		if err == nil {
			backoff = backoffFirst
			err = s.serve(line)
		}
		if errors.Is(err, ErrClosed) {
			return
		}
		s.down(err)
		select {
		case <-s.quit:
			return
		case <-time.After(backoff):
		}
		backoff = min(2*backoff, backoffMost)
		line, err = s.opts.OpenLine()
	}
}

// serve works one line until it is lost, and returns why.
func (s *Serial) serve(line Line) error {
	l := newLink(line)
	s.mu.Lock()
	s.link = l
	s.stats.Opens++
	s.helloAt = time.Time{}
	s.openedAt = s.opts.Now()
	s.mu.Unlock()
	s.opts.Log("line open", "path", s.opts.Path)
	go l.read(func(raw []byte) { s.receive(l, raw) })
	go l.write(s.encode)
	s.attend()

	err := s.watch(l)
	l.stop()
	s.mu.Lock()
	s.link = nil
	s.mu.Unlock()
	if !errors.Is(err, ErrClosed) {
		s.down(err) // before reap, which may wait long
	}
	if !s.reap(l) {
		return fmt.Errorf("%w: %w", ErrClosed, ErrHung)
	}
	return err
}

// watch waits for the line's end and attends to it meanwhile.
func (s *Serial) watch(l *link) error {
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	for {
		select {
		case <-s.quit:
			return ErrClosed
		case err := <-l.failed:
			return s.lost(err)
		case <-ticker.C:
			if l.hangs(writeHangs) {
				return ErrHung
			}
			s.attend()
		}
	}
}

// lost names a failed read or write. The library gives the same error for an
// unplugged device and for our own Close, so that our flag decides.
func (s *Serial) lost(err error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return ErrClosed
	}
	return fmt.Errorf("%w: %w", ErrUnplug, err)
}

// reap waits until reader and writer have left the line and it is closed. Only
// then may it be opened again: at most one write ever hangs. It reports false
// when Close could not wait any longer.
func (s *Serial) reap(l *link) bool {
	select {
	case <-l.closed:
		return true
	case <-s.quit:
	}
	select {
	case <-l.closed:
		return true
	case <-time.After(closeWaits):
		s.hungErr = ErrHung
		return false
	}
}

// down tells that the line is gone, once for each new reason.
func (s *Serial) down(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.setDown(err)
}

// setDown is down for a caller that holds s.mu.
func (s *Serial) setDown(err error) {
	tell := s.up || s.downErr == nil || s.downErr.Error() != err.Error()
	s.up, s.downErr = false, err
	if tell {
		s.opts.Log("line down", "path", s.opts.Path, "err", err)
		s.queue.put(&Report{Kind: ReportDown, At: s.opts.Now(), Err: err})
	}
}

// attend asks for what is missing: a hello, the next piece of configuration.
func (s *Serial) attend() {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.opts.Now()
	if s.link == nil {
		return
	}
	if s.up && s.receiver.Silent(s.ms(now)) || s.unanswered(now) {
		s.setDown(ErrSilent)
	}
	if s.halted {
		return
	}
	if (!s.up || s.unheard(now)) && now.Sub(s.helloAt) >= helloEvery {
		s.askHello(now)
	}
	if piece, missing := s.config.Missing(); s.up && missing && s.asked < configTries {
		s.asked++
		s.link.box.askParameters(piece)
	}
}

func (s *Serial) askHello(now time.Time) {
	s.helloAt = now
	s.link.box.askHello()
}

// unanswered: the line has been open for long, and nobody said hello.
func (s *Serial) unanswered(now time.Time) bool {
	return !s.up && s.downErr == nil && now.Sub(s.openedAt) >= silent
}

// unheard: requests leave, but the microcontroller has taken none for long.
// Its sequence window is lost; a hello request sets it anew.
func (s *Serial) unheard(now time.Time) bool {
	return now.Sub(s.echoAt) >= silent && s.sentAt.After(s.echoAt)
}
