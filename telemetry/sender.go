package telemetry

import (
	"errors"
	"time"

	"pressrig/controller"
)

// errClosing ends a session because Close was called.
var errClosing = errors.New("closing")

// send holds the connection: dial, drain the queues, and after a loss try
// again with a doubling wait. It is the only goroutine that waits for the
// network; it ends when Close was called.
func (t *Telemetry) send() {
	defer close(t.sent)
	wait, logged := t.o.RetryFirst, ""
	for {
		s, err := t.connect()
		if err == nil {
			wait, logged = t.o.RetryFirst, ""
			t.o.Log.Info().Str("broker", t.o.address).Msg("telemetry connected")
			if err = t.drain(s); errors.Is(err, errClosing) {
				t.farewell(s)
				return
			}
			s.abandon()
		}
		t.setLink(err)
		if text := err.Error(); text != logged { // the same reason is logged once
			logged = text
			t.o.Log.Warn().Str("broker", t.o.address).Err(err).
				Msg("telemetry has no broker; the rig goes on")
		}
		select {
		case <-t.opened.Done():
			return
		case <-time.After(wait):
		}
		wait = min(2*wait, t.o.RetryLongest)
	}
}

// connect makes one attempt, which Close cuts short, and says online.
func (t *Telemetry) connect() (*session, error) {
	now := t.o.Now()
	s, err := dial(t.opened, sessionOptions{
		settings: &t.o, base: t.base, arrived: t.ignored,
		will: t.words.status("offline", "connection lost", now),
	})
	if err != nil {
		return nil, err
	}
	s.made = now
	online := t.words.status("online", "connected", now)
	if err := s.publish(t.opened, t.base+topicStatus, online); err != nil {
		s.abandon()
		return nil, err
	}
	t.setLink(nil)
	return s, nil
}

// setLink notes a new connection (nil) or why there is none.
func (t *Telemetry) setLink(problem error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.link.up = problem == nil
	t.link.problem = ""
	if problem != nil {
		t.link.problem = problem.Error()
		return
	}
	t.link.first = t.samples.next()
	t.told.changed = t.told.status.State != 0 // the broker may know an old state or none
	t.told.ledger.changed = t.told.ledger.entries > 0
}

// drain sends until the connection is lost or Close is called.
func (t *Telemetry) drain(s *session) error {
	for {
		more, err := t.sendOne(s)
		switch {
		case err != nil && t.isClosing():
			return errClosing
		case err != nil:
			return err
		case more && !t.isClosing():
			continue
		}
		select {
		case <-t.opened.Done():
			return errClosing
		case <-t.wakeSender:
		case <-s.lost:
			return errLost
		}
	}
}

func (t *Telemetry) isClosing() bool { return t.opened.Err() != nil }

// farewell delivers what is left, as long as Close allows, and says offline.
func (t *Telemetry) farewell(s *session) {
	select {
	case <-t.collected:
	case <-t.context.Done():
	}
	for more, err := true, error(nil); more && err == nil; {
		more, err = t.sendOne(s)
	}
	m := t.words.status("offline", "closed", s.made)
	if err := s.publish(t.context, t.base+topicStatus, m); err != nil {
		s.abandon() // then the broker says it with the last will
	} else {
		s.leave()
	}
	t.setLink(errClosing)
}

// sendOne sends the most urgent message there is. What is not acknowledged
// stays where it is. One at a time keeps the order; an acknowledgement takes
// well under a millisecond on a local network.
func (t *Telemetry) sendOne(s *session) (sent bool, err error) {
	for _, next := range [...]func(*session) (bool, error){
		t.sendEvent, t.sendState, t.sendLedger, t.sendSample, t.sendSummary,
	} {
		if sent, err = next(s); sent || err != nil {
			return sent, err
		}
	}
	return false, nil
}

func (t *Telemetry) publish(s *session, m message) error {
	return s.publish(t.context, t.base+m.topic, m)
}

func (t *Telemetry) sendEvent(s *session) (bool, error) {
	t.mu.Lock()
	m, number, ok := t.events.peek()
	t.mu.Unlock()
	if !ok {
		return false, nil
	}
	if err := t.publish(s, m); err != nil {
		return false, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.events.drop(number)
	return true, nil
}

// sendState sends only the newest state: it is retained, so what lay between
// would be overwritten at once.
func (t *Telemetry) sendState(s *session) (bool, error) {
	status, wall, stampMs, ok := t.takeState()
	if !ok {
		return false, nil
	}
	if err := t.publish(s, t.words.state(&status, wall, stampMs)); err != nil {
		return false, err // the next connection sends the newest anyway
	}
	return true, nil
}

func (t *Telemetry) takeState() (s controller.Status, wall time.Time, stampMs uint32, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	d := &t.told
	ok, d.changed = d.changed, false
	return d.status, d.wall, d.snap.StampMs, ok
}

// sendLedger sends only the newest head: the chain holds those before it.
func (t *Telemetry) sendLedger(s *session) (bool, error) {
	t.mu.Lock()
	l := t.told.ledger
	t.told.ledger.changed = false
	t.mu.Unlock()
	if !l.changed {
		return false, nil
	}
	if err := t.publish(s, t.words.ledger(&l)); err != nil {
		return false, err // the next connection sends the newest anyway
	}
	return true, nil
}

func (t *Telemetry) sendSample(s *session) (bool, error) {
	t.mu.Lock()
	v, number, ok := t.samples.peek()
	late, lost := number < t.link.first, t.samples.lost
	t.mu.Unlock()
	if !ok {
		return false, nil
	}
	if err := t.publish(s, t.words.channels(&v, late, lost)); err != nil {
		return false, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.samples.drop(number)
	return true, nil
}

func (t *Telemetry) sendSummary(s *session) (bool, error) {
	payload, number, ok := t.store.oldest()
	if !ok {
		return false, nil
	}
	if err := t.publish(s, message{topicCycle, payload}); err != nil {
		return false, err
	}
	t.store.delivered(number)
	return true, nil
}
