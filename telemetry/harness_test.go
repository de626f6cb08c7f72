package telemetry

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"pressrig/controller"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/telemetry/broker"
)

var update = flag.Bool("update", false, "rewrite golden files and the generated part of the docs")

// golden compares got with a file of testdata, or rewrites it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s (-want +got), refresh with -update if meant:\n%s", path, d)
	}
}

// pretty indents a payload, which also proves that it is JSON.
func pretty(t *testing.T, payload []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := json.Indent(&b, payload, "", "  "); err != nil {
		t.Fatalf("payload is not JSON: %v\n%s", err, payload)
	}
	b.WriteByte('\n')
	return b.Bytes()
}

// An invented moment and an invented rig.
var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func testCause(row uint8) string {
	return map[uint8]string{1: "emergency stop", 3: "flame lost", 18: "glass too hot"}[row]
}

func pressing() *controller.Status {
	return &controller.Status{State: controller.Running, Cycle: 12, Run: 3, Piece: 2,
		Recipe: "nine_pin_stem", Phase: 5, PhaseName: "form", PhaseKind: recipes.Press,
		Doing: "press to 45 N", Lock: warden.LockNone, PhaseMs: 300, LeftMs: 900}
}

func hotSnapshot() *rig.Snapshot {
	s := &rig.Snapshot{StampMs: 123456, Flags: rig.FlagViewFree,
		In: warden.InEstopOK | warden.InDoorClosed | warden.InFlame}
	s.Analog = [warden.NumAnalog]int16{7804, 4100, 4056, 1234, 450, 600, 350, 900, 38, 1500}
	s.AnalogOK = 1<<warden.NumAnalog - 1
	return s
}

// network is a net of pipes inside a synctest bubble: whole brokers and
// clients run on virtual time.
type network struct {
	mu     sync.Mutex
	door   *door
	silent atomic.Bool // client ends neither send nor hear any more
}

var errRefused = errors.New("connection refused")

// open lets callers in from now on and gives the listener.
func (n *network) open() net.Listener {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.door = &door{conns: make(chan net.Conn), closed: make(chan struct{})}
	return n.door
}

func (n *network) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	n.mu.Lock()
	d := n.door
	n.mu.Unlock()
	if d == nil {
		return nil, errRefused
	}
	near, far := net.Pipe()
	select {
	case d.conns <- wire{Conn: far}:
		return wire{Conn: near, silent: &n.silent}, nil
	case <-d.closed:
		return nil, errRefused
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

type door struct {
	conns  chan net.Conn
	closed chan struct{}
	once   sync.Once
}

func (d *door) Accept() (net.Conn, error) {
	select {
	case c := <-d.conns:
		return c, nil
	case <-d.closed:
		return nil, net.ErrClosed
	}
}
func (d *door) Close() error   { d.once.Do(func() { close(d.closed) }); return nil }
func (d *door) Addr() net.Addr { return loopback }

var loopback = &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 1883}

// wire is one end of a pipe that says it is on loopback.
type wire struct {
	net.Conn
	silent *atomic.Bool
}

func (w wire) RemoteAddr() net.Addr { return loopback }
func (w wire) Write(p []byte) (int, error) {
	if w.silent != nil && w.silent.Load() {
		return len(p), nil
	}
	return w.Conn.Write(p)
}
func (w wire) Read(p []byte) (int, error) {
	for {
		n, err := w.Conn.Read(p)
		if err != nil || w.silent == nil || !w.silent.Load() {
			return n, err
		}
	}
}

// plainBroker is a broker that the test owns: user u, password p.
func plainBroker(t *testing.T, l net.Listener) *broker.Broker {
	t.Helper()
	b, err := broker.Start(broker.Options{Listener: l, Prefix: DefaultPrefix,
		ClientID: "pressrig-bench", User: "u", Password: "p", Log: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

// options are those of a rig called bench whose broker is on the network.
func options(t *testing.T, n *network) Options {
	return Options{Rig: "bench", Dir: t.TempDir(), URL: "tcp://127.0.0.1:1883",
		User: "u", Password: "p", Dial: n.dial, Now: time.Now, CauseText: testCause,
		Log: zerolog.Nop()}
}

func start(t *testing.T, o Options) *Telemetry {
	t.Helper()
	tel, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = tel.Close() })
	return tel
}

// got is one message that a subscriber received.
type got struct {
	topic    string
	payload  []byte
	retained bool
}

// subscriber is a reader as a shop would have one.
type subscriber struct {
	client mqtt.Client
	in     chan got
	passed []got // received while waiting for another
}

type dialFunc func(context.Context, string, string) (net.Conn, error)

func subscribe(t *testing.T, dial dialFunc, address string) *subscriber {
	t.Helper()
	s := connect(t, dial, address, mqtt.NewClientOptions())
	s.done(t, s.client.Subscribe(DefaultPrefix+"/#", 1, func(_ mqtt.Client, m mqtt.Message) {
		s.in <- got{m.Topic(), m.Payload(), m.Retained()}
	}))
	return s
}

// attack connects with the one login that the broker lets publish.
func attack(t *testing.T, n *network) *subscriber {
	t.Helper()
	return connect(t, n.dial, "127.0.0.1:1883",
		mqtt.NewClientOptions().SetClientID("attacker").SetUsername("u").SetPassword("p"))
}

func connect(t *testing.T, dial dialFunc, address string, o *mqtt.ClientOptions) *subscriber {
	t.Helper()
	s := &subscriber{in: make(chan got, 4096)}
	o.AddBroker("tcp://" + address).SetProtocolVersion(4).
		SetAutoReconnect(false).SetConnectTimeout(10 * time.Second).SetKeepAlive(0)
	o.SetCustomOpenConnectionFn(func(*url.URL, mqtt.ClientOptions) (net.Conn, error) {
		return dial(context.Background(), "tcp", address)
	})
	s.client = mqtt.NewClient(o)
	s.done(t, s.client.Connect())
	t.Cleanup(s.close)
	return s
}

func (s *subscriber) done(t *testing.T, token mqtt.Token) {
	t.Helper()
	if !token.WaitTimeout(deadline) {
		t.Fatal("no answer from the broker")
	}
	if err := token.Error(); err != nil {
		t.Fatal(err)
	}
}

func (s *subscriber) publish(t *testing.T, topic string, retained bool, payload string) {
	t.Helper()
	s.done(t, s.client.Publish(topic, 1, retained, payload))
}

func (s *subscriber) close() { s.client.Disconnect(100) }

// deadline of one expected message; virtual time inside a bubble.
const deadline = 30 * time.Second

// next gives the next message of a topic's last level, for rig bench.
func (s *subscriber) next(t *testing.T, name string) got {
	t.Helper()
	return s.nextWith(t, name, "")
}

// nextWith gives the next message of a topic whose payload has text in it.
func (s *subscriber) nextWith(t *testing.T, name, text string) got {
	t.Helper()
	fits := func(m got) bool {
		return m.topic == DefaultPrefix+"/bench/"+name && bytes.Contains(m.payload, []byte(text))
	}
	if i := slices.IndexFunc(s.passed, fits); i >= 0 { // came before what was asked for before
		m := s.passed[i]
		s.passed = slices.Delete(s.passed, i, i+1)
		return m
	}
	late := time.After(deadline)
	for {
		select {
		case m := <-s.in:
			if fits(m) {
				return m
			}
			s.passed = append(s.passed, m)
		case <-late:
			t.Fatalf("no message on %s with %q", name, text)
		}
	}
}

// logged collects log lines and lets a test wait for one.
type logged struct{ lines chan string }

func newLogged() *logged { return &logged{make(chan string, 4096)} }

func (l *logged) Write(p []byte) (int, error) {
	select {
	case l.lines <- string(p):
	default:
	}
	return len(p), nil
}

func (l *logged) wait(t *testing.T, text string) string {
	t.Helper()
	late := time.After(deadline)
	for {
		select {
		case line := <-l.lines:
			if bytes.Contains([]byte(line), []byte(text)) {
				return line
			}
		case <-late:
			t.Fatalf("nothing logged with %q", text)
		}
	}
}

// endCycle tells the records of a short cycle that complete.
func endCycle(tel *Telemetry, cycle uint32) {
	s := pressing()
	s.Cycle = cycle
	tel.Record(controller.Record{Kind: controller.RecStart, Cycle: cycle, ElapsedMs: 1000})
	tel.Tell(s, hotSnapshot())
	tel.Record(controller.Record{Kind: controller.RecEnd, Cycle: cycle, ElapsedMs: 181000,
		State: controller.Complete, Reason: "done"})
}
