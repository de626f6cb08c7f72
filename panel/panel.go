package panel

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"time"

	"pressrig/controller"
	"pressrig/panel/api"
	"pressrig/rig"
)

const (
	// MaxConnections bounds the connections to the daemon: the serial
	// library's select() panics at descriptor 1024, and the database, the
	// broker and its clients need theirs.
	MaxConnections = 256
	// MaxFollowers leaves connections for commands, whatever pages hang.
	MaxFollowers = 192

	// headerTimeout and readTimeout: a caller on this machine needs neither
	// long. writeTimeout is for a whole answer but a follower's, which has
	// frameTimeout for each frame; the longest is a trace of some MiB.
	headerTimeout = 2 * time.Second
	readTimeout   = 5 * time.Second
	writeTimeout  = 20 * time.Second
	frameTimeout  = 2 * time.Second
	idleTimeout   = 10 * time.Second
	// commandTimeout bounds how long a command may wait for the loop.
	commandTimeout = 5 * time.Second
	maxHeader      = 8 << 10

	// frameEvery is the time between two frames of a follower: 20 a second is
	// as much as a person sees.
	frameEvery = 50 * time.Millisecond
)

// Options is what a Panel is made of.
type Options struct {
	Rig     string // the rig's name, in every frame
	Daemon  Daemon
	Records Records
	Proofs  Proofs            // nil: no proof tests
	Causes  api.Causes        // the words of the cause-and-effect matrix
	Now     func() time.Time  // real time, never scaled
	Permit  func(Peer) Permit // nil: OwnerWrites
	Log     func(error)       // told of internal errors; nil: nobody is
	Every   time.Duration     // between a follower's frames; 0: 50 ms
}

// Panel serves the local API. It is a loop.Publisher.
type Panel struct {
	o       Options
	box     *mailbox
	http    *http.Server
	follows chan struct{} // holds a token for each follower
	leave   chan struct{} // closed when followers must go
	patient time.Duration // how long one frame may take to be read: frameTimeout
}

// New makes a Panel; Serve runs it.
func New(o Options) (*Panel, error) {
	if o.Daemon == nil || o.Records == nil || o.Causes == nil || o.Now == nil {
		return nil, errors.New("a panel needs Daemon, Records, Causes and Now")
	}
	if o.Permit == nil {
		o.Permit = OwnerWrites(os.Getuid())
	}
	if o.Log == nil {
		o.Log = func(error) {}
	}
	if o.Every <= 0 {
		o.Every = frameEvery
	}
	p := &Panel{o: o, box: &mailbox{now: o.Now}, follows: make(chan struct{}, MaxFollowers),
		leave: make(chan struct{}), patient: frameTimeout}
	p.http = &http.Server{
		Handler:           p.handler(),
		ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, WriteTimeout: writeTimeout,
		IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeader,
		ConnContext: withPeer, ErrorLog: log.New(io.Discard, "", 0), // a page that went away is no fault
	}
	p.http.RegisterOnShutdown(func() { close(p.leave) })
	return p, nil
}

// Tell takes the newest status and snapshot; it never waits.
func (p *Panel) Tell(s *controller.Status, snap *rig.Snapshot) { p.box.Tell(s, snap) }

// Record takes one record; it never waits.
func (p *Panel) Record(r controller.Record) { p.box.Record(r) }

// Serve answers on l, from Listen, until ctx ends; it then lets running
// requests finish for a second, closes the rest and returns nil. It is called
// once.
func (p *Panel) Serve(ctx context.Context, l net.Listener) error {
	done := make(chan error, 1)
	go func() { done <- p.http.Serve(limit(l, MaxConnections)) }()
	select {
	case err := <-done:
		return fmt.Errorf("panel: %w", err)
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	if err := p.http.Shutdown(grace); err != nil {
		err = p.http.Close()
		<-done
		return err
	}
	<-done
	return nil
}

// handler is the two handler sets behind their permissions.
func (p *Panel) handler() http.Handler {
	read, write := http.NewServeMux(), http.NewServeMux()
	p.readSide(read)
	p.writeSide(write)
	p.proofSides(read, write)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		peer := peerOf(r.Context())
		may, side := p.o.Permit(peer), read
		need := MayRead
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			side, need = write, MayCommand
		}
		if may&need == 0 {
			p.refuse(w, &api.Error{Code: api.NoRight, Message: fmt.Sprintf(
				"user id %d may not do this", peer.UID),
				Hint: "the daemon's config says who may command and who may read"})
			return
		}
		side.ServeHTTP(w, r)
	})
}
