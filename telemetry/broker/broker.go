package broker

import (
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"
)

// Limits, so that no client can make the daemon's memory grow.
const (
	MaxClients       = 32       // pages and loggers of one shop; connections, logged in or not
	MaxPacket        = 64 << 10 // bytes, as large as the daemon's largest message
	MaxSubscriptions = 32       // a client's filters
	MaxFilter        = 256      // bytes of a filter
	MaxPending       = 512      // messages waiting for a slow reader; more are dropped
	MaxInflight      = 256      // unacknowledged messages to a reader

	connectLongest = 5 * time.Second // from connection to CONNECT
)

// Options configures the embedded broker.
type Options struct {
	Listen   string       // host:port; port 0 takes a free one
	Listener net.Listener // instead of Listen
	TLS      *tls.Config  // nil: plain TCP
	Prefix   string       // topics below <prefix>/ exist, no others

	// The one that may publish: the daemon, with a password of this start.
	ClientID string // reserved, so that no one can push the daemon off
	User     string
	Password string

	// Readers with these may come from anywhere; without them only anonymous
	// ones from loopback are let in.
	ReaderUser     string
	ReaderPassword string

	Log zerolog.Logger
}

// Counts is what was refused since the start.
type Counts struct {
	Logins        uint64 // wrong user, password, client id, or not from loopback
	Publishes     uint64 // by readers: dropped
	Subscriptions uint64 // outside the prefix, or too many
	Connections   uint64 // over MaxClients
	Broken        uint64 // ended because the library failed on what they sent
}

// counters are Counts in the making.
type counters struct{ logins, publishes, subscriptions, connections, broken atomic.Uint64 }

// role is what a client may do.
type role uint8

const (
	stranger role = 0 // refused
	reader   role = 1 // subscribes below the prefix
	daemon   role = 2 // publishes and subscribes below the prefix
)

// policy decides who may do what; it knows nothing of the library.
type policy struct{ o *Options }

// who gives the role of a login. Secrets are compared in constant time.
func (p policy) who(clientID, user, password, remote string) role {
	switch {
	case p.o.User != "" && same(user, p.o.User) && same(password, p.o.Password):
		if clientID == p.o.ClientID {
			return daemon
		}
		return stranger
	case clientID == p.o.ClientID:
		return stranger
	case p.o.ReaderUser != "" && same(user, p.o.ReaderUser) && same(password, p.o.ReaderPassword):
		return reader
	case user == "" && password == "" && fromLoopback(remote):
		return reader
	}
	return stranger
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

func fromLoopback(remote string) bool {
	host, _, err := net.SplitHostPort(remote)
	ip := net.ParseIP(host)
	return err == nil && ip != nil && ip.IsLoopback()
}

// below reports whether a topic or filter lies below the prefix. A filter that
// only begins like it, or that reaches it by a wildcard, does not.
func (p policy) below(topic string) bool {
	return strings.HasPrefix(topic, p.o.Prefix+"/") && len(topic) <= MaxFilter
}

func (o *Options) check() error {
	switch {
	case o.Prefix == "" || strings.ContainsAny(o.Prefix, "+#$"):
		return fmt.Errorf("prefix %q, want a topic without wildcards", o.Prefix)
	case o.User == "" || o.Password == "" || o.ClientID == "":
		return errors.New("no user, password or client id for the daemon")
	case o.Listener == nil && o.Listen == "":
		return errors.New("no address to listen on")
	}
	return nil
}
