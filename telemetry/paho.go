package telemetry

// The only file that knows the MQTT client library. Of what it offers we use
// one connection and its acknowledgements. Its own reconnecting cannot be
// cancelled (it sleeps), and its store is tied to packet ids of one session
// and deletes by them; so each session here is a new client without a memory,
// and what must survive lives in store.go.

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

const (
	connectLongest = 5 * time.Second // network, TLS and CONNACK together
	ackLongest     = 5 * time.Second // PUBACK, SUBACK; longer means half-open
	pingLongest    = 5 * time.Second // PINGRESP
	quiesceMs      = 250             // for DISCONNECT to leave
)

var errLost = errors.New("connection lost")

// session is one connection to a broker, from CONNECT to its end.
type session struct {
	client mqtt.Client
	guard  *guard
	once   sync.Once
	lost   chan struct{} // closed when the connection is gone
	made   time.Time     // wall clock
}

// sessionOptions is what a session needs to know.
type sessionOptions struct {
	settings *settings
	will     message
	base     string // <prefix>/<rig>/
	// arrived hears that something came on the command topic: never what.
	arrived func(retained bool, size int)
}

// dial makes one attempt and gives a session whose command topic is
// subscribed. It returns at once when ctx ends.
func dial(ctx context.Context, o sessionOptions) (*session, error) {
	attempt, cancel := context.WithTimeout(ctx, connectLongest)
	defer cancel()
	s := &session{lost: make(chan struct{})}
	conn, err := open(attempt, o.settings)
	if err != nil {
		return nil, fmt.Errorf("open connection: %w", err)
	}
	s.guard = newGuard(conn)
	stop := context.AfterFunc(attempt, func() { s.guard.Close() })
	defer stop()
	s.client = mqtt.NewClient(s.clientOptions(o))
	if err := s.wait(attempt, s.client.Connect()); err != nil {
		s.abandon()
		return nil, fmt.Errorf("connect: %w", err)
	}
	// QoS 0: the broker keeps nothing for us, and nothing we got is stored.
	token := s.client.Subscribe(o.base+topicCommand, 0, func(_ mqtt.Client, m mqtt.Message) {
		o.arrived(m.Retained(), len(m.Payload()))
	})
	if err := s.wait(attempt, token); err != nil {
		s.abandon()
		return nil, fmt.Errorf("subscribe: %w", err)
	}
	return s, nil
}

func open(ctx context.Context, o *settings) (net.Conn, error) {
	conn, err := o.Dial(ctx, "tcp", o.address)
	if err != nil || o.tls == nil {
		return conn, err
	}
	return handshake(ctx, conn, o.tls)
}

func (s *session) clientOptions(o sessionOptions) *mqtt.ClientOptions {
	qos, retained := rules(o.will.topic)
	c := mqtt.NewClientOptions().
		AddBroker("tcp://"+o.settings.address).
		SetClientID(o.settings.ClientID).
		SetUsername(o.settings.User).
		SetPassword(o.settings.Password).
		SetProtocolVersion(4). // MQTT 3.1.1, and no falling back
		SetCleanSession(true).
		SetAutoReconnect(false).
		SetConnectRetry(false).
		SetKeepAlive(KeepAlive).
		SetPingTimeout(pingLongest).
		SetConnectTimeout(connectLongest).
		SetWriteTimeout(writeLongest).
		SetBinaryWill(o.base+o.will.topic, o.will.payload, qos, retained).
		SetConnectionLostHandler(func(mqtt.Client, error) { s.end() })
	c.SetCustomOpenConnectionFn(func(*url.URL, mqtt.ClientOptions) (net.Conn, error) {
		return s.guard, nil
	})
	return c
}

func (s *session) end() { s.once.Do(func() { close(s.lost) }) }

// publish sends one message and returns when the broker has acknowledged it
// (QoS 1) or the network has taken it (QoS 0).
func (s *session) publish(ctx context.Context, topic string, m message) error {
	qos, retained := rules(m.topic)
	return s.wait(ctx, s.client.Publish(topic, qos, retained, m.payload))
}

func (s *session) wait(ctx context.Context, token mqtt.Token) error {
	timer := time.NewTimer(ackLongest)
	defer timer.Stop()
	select {
	case <-token.Done():
		return token.Error()
	case <-s.lost:
		return errLost
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return fmt.Errorf("no answer within %v", ackLongest)
	}
}

// abandon drops the connection without DISCONNECT, so that the broker sends
// the last will.
func (s *session) abandon() {
	s.guard.Close()
	s.client.Disconnect(quiesceMs)
	s.end()
}

// leave ends the session properly: the broker drops the last will.
func (s *session) leave() {
	s.client.Disconnect(quiesceMs)
	s.guard.Close()
	s.end()
}
