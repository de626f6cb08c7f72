package broker

// The only file that knows the broker library.

import (
	"bytes"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
	"github.com/rs/zerolog"
)

const linger = 100 * time.Millisecond

// Broker is a running embedded broker.
type Broker struct {
	server   *mqtt.Server
	gate     *gate
	counters counters
	closing  sync.Once
}

// Start listens and serves; an error is a wrong option or an address in use.
func Start(o Options) (*Broker, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	b := &Broker{}
	gate, err := listen(&o, &b.counters)
	if err != nil {
		return nil, err
	}
	b.gate = gate
	log := o.Log.Level(max(o.Log.GetLevel(), zerolog.ErrorLevel)) // how readers end is no news
	b.server = mqtt.New(&mqtt.Options{
		Capabilities:           capabilities(),
		Logger:                 slog.New(zerolog.NewSlogHandler(log)),
		SysTopicResendInterval: 3600, // nobody may read them
	})
	hook := &rules{policy: policy{&o}, counters: &b.counters}
	if err := b.server.AddHook(hook, nil); err != nil {
		gate.Close()
		return nil, fmt.Errorf("broker hook: %w", err)
	}
	if err := b.server.AddListener(&entrance{gate: gate, counters: &b.counters}); err != nil {
		gate.Close()
		return nil, fmt.Errorf("broker listener: %w", err)
	}
	return b, b.server.Serve()
}

func capabilities() *mqtt.Capabilities {
	c := mqtt.NewDefaultServerCapabilities()
	c.MaximumClients = MaxClients
	c.MaximumPacketSize = MaxPacket
	c.MaximumClientWritesPending = MaxPending
	c.MaximumInflight = MaxInflight
	c.ReceiveMaximum = MaxInflight
	c.MaximumSessionExpiryInterval = 0
	c.MaximumQos = 1
	c.TopicAliasMaximum = 0
	c.SharedSubAvailable = 0
	return c
}

// Addr is where it listens.
func (b *Broker) Addr() string { return b.gate.Addr().String() }

// Counts is what was refused since the start.
func (b *Broker) Counts() Counts {
	c := &b.counters
	return Counts{c.logins.Load(), c.publishes.Load(), c.subscriptions.Load(),
		c.connections.Load(), c.broken.Load()}
}

// Close ends all connections and returns when they have ended. It lingers
// first: the library acknowledges a message before it passes it on, so the
// daemon's last word, offline, may still be on its way to the readers.
func (b *Broker) Close() (err error) {
	b.closing.Do(func() {
		<-time.After(linger)
		err = b.server.Close()
	})
	return err
}

// entrance hands connections to the library, each in its own goroutine. The
// library parses what strangers send inside the daemon's process: should it
// panic, that connection ends and nothing else.
type entrance struct {
	gate     *gate
	counters *counters
	log      *slog.Logger
}

// Init, ID, Address and Protocol are what the library asks of a listener.
func (e *entrance) Init(log *slog.Logger) error { e.log = log; return nil }

// ID names the listener.
func (e *entrance) ID() string { return "entrance" }

// Address is where it listens.
func (e *entrance) Address() string { return e.gate.Addr().String() }

// Protocol is for the library's log.
func (e *entrance) Protocol() string { return "tcp" }

// Serve accepts until the gate is closed.
func (e *entrance) Serve(establish listeners.EstablishFn) {
	for {
		conn, err := e.gate.Accept()
		if err != nil {
			return
		}
		go e.serveOne(conn, establish)
	}
}

func (e *entrance) serveOne(conn net.Conn, establish listeners.EstablishFn) {
	defer conn.Close()
	defer func() {
		if cause := recover(); cause != nil {
			e.counters.broken.Add(1)
			e.log.Error("connection ended: broker library failed", "cause", fmt.Sprint(cause))
		}
	}()
	_ = establish(e.ID(), conn) // how a reader's connection ends is of no interest
}

// Close closes the gate first, so that nobody comes while clients are sent off.
func (e *entrance) Close(closeClients listeners.CloseFn) {
	_ = e.gate.Close()
	closeClients(e.ID())
}

// rules applies the policy. The library asks all hooks and takes one yes, so
// this must stay the only hook.
type rules struct {
	mqtt.HookBase
	policy   policy
	counters *counters
}

// ID names the hook.
func (r *rules) ID() string { return "rules" }

// Provides says which of the library's questions are answered here.
func (r *rules) Provides(b byte) bool {
	return bytes.IndexByte([]byte{mqtt.OnConnect, mqtt.OnConnectAuthenticate, mqtt.OnACLCheck,
		mqtt.OnPublish, mqtt.OnSubscribe}, b) >= 0
}

// OnConnect makes every session a clean one and takes the last will from all
// but the daemon: the library sends wills without asking for permission.
func (r *rules) OnConnect(cl *mqtt.Client, pk packets.Packet) error {
	cl.Properties.Clean = true
	cl.Properties.Props.SessionExpiryInterval = 0
	if r.role(cl, pk) != daemon || !r.policy.below(cl.Properties.Will.TopicName) {
		cl.Properties.Will = mqtt.Will{}
	}
	return nil
}

// OnConnectAuthenticate lets in the daemon and readers.
func (r *rules) OnConnectAuthenticate(cl *mqtt.Client, pk packets.Packet) bool {
	if r.role(cl, pk) == stranger {
		r.counters.logins.Add(1)
		return false
	}
	return true
}

func (r *rules) role(cl *mqtt.Client, pk packets.Packet) role {
	return r.policy.who(cl.ID, string(pk.Connect.Username), string(pk.Connect.Password), cl.Net.Remote)
}

// isDaemon knows the daemon by its client id, which nobody else gets.
func (r *rules) isDaemon(cl *mqtt.Client) bool { return cl.ID == r.policy.o.ClientID }

// OnACLCheck answers for reading. For writing it says yes to all: a refused
// QoS 1 publish makes the library drop the client, whose own library then
// reconnects and sends it again, for ever. OnPublish drops it instead.
func (r *rules) OnACLCheck(_ *mqtt.Client, topic string, write bool) bool {
	return write || r.policy.below(topic)
}

// OnPublish passes what the daemon says below the prefix. Anything else is
// acknowledged and goes nowhere, not even among the retained.
func (r *rules) OnPublish(cl *mqtt.Client, pk packets.Packet) (packets.Packet, error) {
	if r.isDaemon(cl) && r.policy.below(pk.TopicName) {
		return pk, nil
	}
	r.counters.publishes.Add(1)
	return pk, packets.CodeSuccessIgnore
}

// OnSubscribe keeps a client to MaxSubscriptions: filters over it are made
// empty, which the library then refuses.
func (r *rules) OnSubscribe(cl *mqtt.Client, pk packets.Packet) packets.Packet {
	room := MaxSubscriptions - cl.State.Subscriptions.Len()
	filters := make(packets.Subscriptions, len(pk.Filters))
	copy(filters, pk.Filters)
	for i := range filters {
		if i >= room || !r.policy.below(filters[i].Filter) {
			filters[i].Filter = ""
			r.counters.subscriptions.Add(1)
		}
	}
	pk.Filters = filters
	return pk
}
