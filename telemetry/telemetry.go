package telemetry

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"pressrig/controller"
	"pressrig/rig"
	"pressrig/telemetry/broker"
)

// Queue sizes. Full, each drops its oldest and counts it.
const (
	maxInbox   = 4096 // records and phase changes not yet collected: 40 cycles while a disk hangs
	maxEvents  = 1024 // phase, trip and alarm messages not yet sent
	maxSamples = 256  // channel values not yet sent: two minutes at 2 Hz

	passwordBytes = 16 // of the embedded broker's password: 128 bit
)

// RowBrokerLost is the matrix row "broker lost": priority 3, telemetry only.
const RowBrokerLost uint8 = 29

// Telemetry publishes what the loop tells. Its methods may be called from any
// goroutine; Tell and Record never wait for disk or network and allocate
// nothing. It satisfies the loop's Publisher.
type Telemetry struct {
	o       settings
	words   words
	base    string // <prefix>/<rig>/
	broker  *broker.Broker
	store   *store
	context context.Context // ends when the time for flushing is over
	cancel  context.CancelFunc
	opened  context.Context // ends when Close is called
	shut    context.CancelFunc

	wakeCollector chan struct{} // length 1: something is in the inbox
	wakeSender    chan struct{} // length 1: something may be sent
	collected     chan struct{} // closed when the collector has ended
	sent          chan struct{} // closed when the sender has ended

	ignoredRetained atomic.Uint64
	ignoredLive     atomic.Uint64

	mu      sync.Mutex // held for copies only, never over disk or network
	closed  bool
	inbox   ring[entry]
	events  ring[message]
	samples ring[sample]
	told    told
	link    link
}

// told is the newest that the loop told.
type told struct {
	status  controller.Status // without its times, so that == shows a change
	wall    time.Time         // of the change
	changed bool              // not yet sent
	snap    rig.Snapshot
	fresh   bool      // snap came since the sample before
	sampled time.Time // when the sample before was taken
	why     string    // of the last phase's end
	ledger  toldLedger
}

// toldLedger is the newest head of the journal's ledger.
type toldLedger struct {
	entries int64
	head    string
	cycle   uint32
	wall    time.Time
	changed bool // not yet sent
}

// link is what is known of the connection.
type link struct {
	up      bool
	problem string
	first   uint64 // number of the first sample taken on this connection
}

// New checks the options, starts the embedded broker if no other is named, and
// starts to publish. A broker that cannot be reached is no error: telemetry
// goes on trying. Errors are wrong options, a folder that cannot be used, or an
// address that the embedded broker cannot listen on.
func New(o Options) (*Telemetry, error) {
	s, err := check(o)
	if err != nil {
		return nil, err
	}
	t := &Telemetry{
		o: s, base: s.Prefix + "/" + s.Rig + "/", words: words{s.Rig, s.CauseText},
		wakeCollector: make(chan struct{}, 1), wakeSender: make(chan struct{}, 1),
		collected: make(chan struct{}), sent: make(chan struct{}),
		inbox: newRing[entry](maxInbox), events: newRing[message](maxEvents),
		samples: newRing[sample](maxSamples),
	}
	t.told.status.Phase = -1
	t.link.problem = "not yet connected"
	if t.store, err = openStore(s.Dir, maxSummaries); err != nil {
		return nil, err
	}
	if s.URL == "" {
		if err := t.startBroker(); err != nil {
			return nil, err
		}
	}
	if s.secretInClear() {
		s.Log.Warn().Str("broker", s.address).
			Msg("the broker's password crosses the network unprotected; want tls://")
	}
	t.context, t.cancel = context.WithCancel(context.Background())
	t.opened, t.shut = context.WithCancel(t.context)
	go t.collect()
	go t.send()
	return t, nil
}

// startBroker starts the embedded broker with a password that only this
// process knows: nobody else can publish.
func (t *Telemetry) startBroker() error {
	secret := make([]byte, passwordBytes)
	if _, err := io.ReadFull(t.o.Random, secret); err != nil {
		return fmt.Errorf("telemetry: password of the embedded broker: %w", err)
	}
	t.o.User, t.o.Password = "pressrig-daemon", hex.EncodeToString(secret)
	b, err := broker.Start(broker.Options{
		Listen: t.o.Listen, Listener: t.o.Listener, Prefix: t.o.Prefix,
		ClientID: t.o.ClientID, User: t.o.User, Password: t.o.Password,
		ReaderUser: t.o.ReaderUser, ReaderPassword: t.o.ReaderPassword, Log: t.o.Log,
	})
	if err != nil {
		return fmt.Errorf("telemetry: embedded broker: %w", err)
	}
	t.broker, t.o.address = b, b.Addr()
	return nil
}

// Address is where the broker is: host:port.
func (t *Telemetry) Address() string { return t.o.address }

// Tell takes copies of the newest status and snapshot (nil: none came).
func (t *Telemetry) Tell(s *controller.Status, snap *rig.Snapshot) {
	now := t.o.Now()
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		return
	}
	if snap != nil {
		t.told.snap, t.told.fresh = *snap, true
	}
	status := *s
	status.PhaseMs, status.LeftMs, status.CycleMs = 0, 0, 0
	if status != t.told.status {
		t.change(&status, now)
	}
	// A wall clock set back must not silence the channels.
	if d := now.Sub(t.told.sampled); d >= t.o.period || d < 0 {
		t.sample(now)
	}
}

func (t *Telemetry) change(s *controller.Status, now time.Time) {
	old := &t.told.status
	if s.Cycle != old.Cycle || s.Phase != old.Phase {
		t.inbox.push(&entry{wall: now, stampMs: t.told.snap.StampMs, phase: true,
			left: old.PhaseName, why: t.told.why, status: *s})
		t.told.why = ""
		wake(t.wakeCollector)
	}
	t.told.status, t.told.wall, t.told.changed = *s, now, true
	wake(t.wakeSender)
}

func (t *Telemetry) sample(now time.Time) {
	d := &t.told
	t.samples.push(&sample{now, d.status.Cycle, d.status.Phase, d.fresh, d.snap})
	d.sampled, d.fresh = now, false
	wake(t.wakeSender)
}

// Record takes a copy of one record.
func (t *Telemetry) Record(r controller.Record) {
	now := t.o.Now()
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		return
	}
	if r.Kind == controller.RecPhaseEnd {
		t.told.why = r.Reason
	}
	t.inbox.push(&entry{wall: now, stampMs: r.StampMs, rec: r, status: t.told.status})
	wake(t.wakeCollector)
}

// Ledger takes the head of the journal's ledger, with the cycle whose end is now
// in it (0: none). It never waits.
func (t *Telemetry) Ledger(cycle uint32, entries int64, head string) {
	now := t.o.Now()
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		return
	}
	t.told.ledger = toldLedger{entries, head, cycle, now, true}
	wake(t.wakeSender)
}

// wake never waits: one token is enough, the reader looks at everything.
func wake(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// collect turns what was told into messages and summaries, whether or not a
// broker is there. It may wait for the disk; it ends when closed and empty.
func (t *Telemetry) collect() {
	defer close(t.collected)
	b := builder{words: t.words}
	for {
		e, ok := t.take()
		if !ok {
			return
		}
		if m, ok := t.words.event(&e); ok {
			t.mu.Lock()
			t.events.push(&m)
			t.mu.Unlock()
			wake(t.wakeSender)
		}
		if payload, ok := b.add(&e); ok {
			if err := t.store.append(payload); err != nil {
				t.o.Log.Error().Err(err).Msg("cycle summary is kept in memory only")
			}
			wake(t.wakeSender)
		}
	}
}

// take waits for the next entry; false: closed and nothing left.
func (t *Telemetry) take() (entry, bool) {
	for {
		t.mu.Lock()
		e, number, ok := t.inbox.peek()
		if ok {
			t.inbox.drop(number)
		}
		closed := t.closed
		t.mu.Unlock()
		if ok || closed {
			return e, ok
		}
		select {
		case <-t.wakeCollector:
		case <-t.opened.Done():
		}
	}
}

// Close takes no more, delivers what it can within FlushLongest, says offline,
// and returns when all its goroutines have ended. What was not delivered of
// the summaries stays on disk for the next start.
func (t *Telemetry) Close() error {
	t.mu.Lock()
	t.closed = true
	t.mu.Unlock()
	t.shut()
	limit := time.AfterFunc(t.o.FlushLongest, t.cancel)
	defer limit.Stop()
	<-t.sent
	<-t.collected
	t.cancel()
	if t.broker == nil {
		return nil
	}
	return t.broker.Close()
}
