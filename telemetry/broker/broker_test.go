package broker

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/url"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/rs/zerolog"
)

const wait = 10 * time.Second // for one answer; none takes that long

func serve(t testing.TB) *Broker {
	t.Helper()
	b, err := Start(Options{Listen: "127.0.0.1:0", Prefix: "pressrig", ClientID: "daemon",
		User: "u", Password: "p", Log: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	return b
}

func options(b *Broker) *mqtt.ClientOptions {
	return mqtt.NewClientOptions().AddBroker("tcp://" + b.Addr()).SetProtocolVersion(4).
		SetAutoReconnect(false).SetConnectTimeout(wait)
}

func asDaemon(b *Broker) *mqtt.ClientOptions {
	return options(b).SetClientID("daemon").SetUsername("u").SetPassword("p")
}

func connect(t *testing.T, o *mqtt.ClientOptions) mqtt.Client {
	t.Helper()
	c := mqtt.NewClient(o)
	must(t, c.Connect())
	t.Cleanup(func() { c.Disconnect(100) })
	return c
}

func must(t *testing.T, token mqtt.Token) {
	t.Helper()
	if !token.WaitTimeout(wait) || token.Error() != nil {
		t.Fatalf("no answer, or %v", token.Error())
	}
}

// hear subscribes and gives the topics that arrive with their payloads.
func hear(t *testing.T, c mqtt.Client, filter string) chan string {
	t.Helper()
	in := make(chan string, 100)
	must(t, c.Subscribe(filter, 1, func(_ mqtt.Client, m mqtt.Message) {
		in <- m.Topic() + " " + string(m.Payload())
	}))
	return in
}

func expect(t *testing.T, in chan string, want string) {
	t.Helper()
	select {
	case got := <-in:
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	case <-time.After(wait):
		t.Errorf("nothing came, want %q", want)
	}
}

func granted(t *testing.T, c mqtt.Client, filter string) bool {
	t.Helper()
	token := c.Subscribe(filter, 1, nil)
	if !token.WaitTimeout(wait) {
		t.Fatal("no answer")
	}
	return token.Error() == nil && token.(*mqtt.SubscribeToken).Result()[filter] < 0x80
}

func TestReadersReadAndCannotPublish(t *testing.T) {
	b := serve(t)
	page := connect(t, options(b))
	in := hear(t, page, "pressrig/#")
	// A refused QoS 1 publish is acknowledged, so that no client sends it for ever.
	must(t, page.Publish("pressrig/bench/state", 1, true, "false"))
	must(t, page.Publish("pressrig/bench/command", 0, false, "start"))
	must(t, page.Publish("elsewhere", 1, true, "x"))
	d := connect(t, asDaemon(b))
	must(t, d.Publish("elsewhere/state", 1, true, "the daemon outside its prefix"))
	must(t, d.Publish("pressrig/bench/state", 1, true, "true"))
	expect(t, in, "pressrig/bench/state true")
	late := hear(t, connect(t, options(b)), "pressrig/#")
	expect(t, late, "pressrig/bench/state true") // retained: the daemon's, not the reader's
	if n := b.Counts().Publishes; n != 4 {
		t.Errorf("%d publishes refused, want 4", n)
	}
	if !page.IsConnected() {
		t.Error("the reader was thrown out for publishing")
	}
}

func TestReadersCannotLeaveAWill(t *testing.T) {
	b := serve(t)
	in := hear(t, connect(t, options(b)), "pressrig/#")
	conn := dial(t, b)
	lost := make(chan struct{})
	o := options(b).SetWill("pressrig/bench/status", "false", 1, true)
	o.SetCustomOpenConnectionFn(func(*url.URL, mqtt.ClientOptions) (net.Conn, error) {
		return conn, nil
	})
	o.SetConnectionLostHandler(func(mqtt.Client, error) { close(lost) })
	connect(t, o)
	if err := conn.(*net.TCPConn).CloseWrite(); err != nil { // the end, without DISCONNECT
		t.Fatal(err)
	}
	<-lost
	d := connect(t, asDaemon(b))
	must(t, d.Publish("pressrig/bench/status", 1, true, "true"))
	expect(t, in, "pressrig/bench/status true")
}

func TestOnlyBelowThePrefix(t *testing.T) {
	b := serve(t)
	page := connect(t, options(b))
	for filter, want := range map[string]bool{
		"pressrig/#": true, "pressrig/bench/+": true, "#": false, "$SYS/#": false,
		"+/bench/state": false, "secret/#": false,
	} {
		if got := granted(t, page, filter); got != want {
			t.Errorf("%s granted: %t, want %t", filter, got, want)
		}
	}
}

func TestSubscriptionsAreBounded(t *testing.T) {
	b := serve(t)
	page := connect(t, options(b))
	for i := range MaxSubscriptions + 1 {
		want := i < MaxSubscriptions
		if got := granted(t, page, fmt.Sprintf("pressrig/%d", i)); got != want {
			t.Errorf("filter %d granted: %t, want %t", i, got, want)
		}
	}
}

func TestStrangersAreRefused(t *testing.T) {
	b := serve(t)
	for name, o := range map[string]*mqtt.ClientOptions{
		"wrong password":     asDaemon(b).SetPassword("wrong"),
		"daemon's client id": options(b).SetClientID("daemon"),
		"unknown user":       options(b).SetUsername("x").SetPassword("y"),
	} {
		token := mqtt.NewClient(o).Connect()
		if !token.WaitTimeout(wait) || token.Error() == nil {
			t.Errorf("%s: let in", name)
		}
	}
	if n := b.Counts().Logins; n != 3 {
		t.Errorf("%d logins refused, want 3", n)
	}
}

// MaxClients counts connections, also those that never say who they are.
func TestConnectionsAreBounded(t *testing.T) {
	b := serve(t)
	for range MaxClients {
		c := dial(t, b)
		defer c.Close()
	}
	over := dial(t, b)
	defer over.Close()
	if err := over.SetReadDeadline(time.Now().Add(wait)); err != nil {
		t.Fatal(err)
	}
	if _, err := over.Read(make([]byte, 1)); err == nil || isTimeout(err) {
		t.Errorf("connection %d was kept: %v", MaxClients+1, err)
	}
	if n := b.Counts().Connections; n != 1 {
		t.Errorf("%d connections refused, want 1", n)
	}
}

// Nobody's subscriptions and messages are kept while he is away.
func TestNoSessionIsKept(t *testing.T) {
	b := serve(t)
	lasting := options(b).SetClientID("page").SetCleanSession(false)
	page := connect(t, lasting)
	hear(t, page, "pressrig/#")
	page.Disconnect(100)
	again := mqtt.NewClient(lasting)
	token := again.Connect()
	must(t, token)
	defer again.Disconnect(100)
	if token.(*mqtt.ConnectToken).SessionPresent() {
		t.Error("a session was kept")
	}
}

// A connection that never says who it is gives its place back.
func TestSilentConnectionIsClosed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		near, far := net.Pipe()
		d := &oneCaller{conns: make(chan net.Conn, 1), closed: make(chan struct{})}
		d.conns <- far
		b, err := Start(Options{Listener: d, Prefix: "pressrig", ClientID: "daemon",
			User: "u", Password: "p", Log: zerolog.Nop()})
		if err != nil {
			t.Fatal(err)
		}
		began := time.Now() // virtual
		if _, err := near.Read(make([]byte, 1)); !errors.Is(err, io.EOF) {
			t.Errorf("got %v, want the end", err)
		}
		if took := time.Since(began); took != connectLongest {
			t.Errorf("closed after %v, want %v", took, connectLongest)
		}
		synctest.Wait()
		if free := len(b.gate.free); free != MaxClients {
			t.Errorf("%d places free, want %d", free, MaxClients)
		}
		b.Close()
	})
}

// oneCaller is a listener with one connection.
type oneCaller struct {
	conns  chan net.Conn
	closed chan struct{}
}

func (o *oneCaller) Accept() (net.Conn, error) {
	select {
	case c := <-o.conns:
		return c, nil
	case <-o.closed:
		return nil, net.ErrClosed
	}
}
func (o *oneCaller) Close() error   { close(o.closed); return nil }
func (o *oneCaller) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)} }

func isTimeout(err error) bool {
	var e net.Error
	return errors.As(err, &e) && e.Timeout()
}

func dial(t testing.TB, b *Broker) net.Conn {
	t.Helper()
	c, err := net.DialTimeout("tcp", b.Addr(), wait)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The edge of MaxPacket: the library counts the remaining length and one byte.
func TestPacketsAreBounded(t *testing.T) {
	b := serve(t)
	d := connect(t, asDaemon(b))
	const topic = "pressrig/x"
	room := MaxPacket - 1 - (2 + len(topic)) - 2 // topic with length, packet id
	must(t, d.Publish(topic, 1, false, strings.Repeat("x", room)))
	token := d.Publish(topic, 1, false, strings.Repeat("x", room+1))
	if token.WaitTimeout(wait) && token.Error() == nil {
		t.Error("a larger packet was taken")
	}
}

// A panic of the library ends one connection, not the daemon.
func TestLibraryFailureEndsOneConnection(t *testing.T) {
	near, far := net.Pipe()
	defer far.Close()
	e := &entrance{counters: &counters{}, log: slog.New(slog.DiscardHandler)}
	e.serveOne(near, func(string, net.Conn) error { panic("broken") })
	if e.counters.broken.Load() != 1 {
		t.Error("not counted")
	}
	if _, err := near.Write([]byte("x")); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("connection still open: %v", err)
	}
}

// Whatever a stranger sends, the broker goes on serving others.
func FuzzStranger(f *testing.F) {
	f.Add([]byte("\x10\x0c\x00\x04MQTT\x04\x02\x00\x00\x00\x00\x82\x0f\x00\x01\x00\x0apressrig/#\x00"))
	f.Add([]byte("\x10\x0d\x00\x04MQTT\x05\x02\x00\x00\x00\x00\x00\x00"))
	f.Add([]byte("\x30\xff\xff\xff\x7f"))
	b := serve(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		c := dial(t, b)
		_, _ = c.Write(text)
		_ = c.(*net.TCPConn).CloseWrite()
		_ = c.SetReadDeadline(time.Now().Add(wait))
		if _, err := io.Copy(io.Discard, c); isTimeout(err) {
			t.Errorf("the broker keeps a connection whose other end is closed")
		}
		c.Close()
		page := connect(t, options(b))
		if !page.IsConnected() {
			t.Error("the broker serves no more")
		}
		if n := b.Counts().Broken; n != 0 {
			t.Logf("the library failed on % x", text)
		}
	})
}
