package main

import (
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"pressrig/controller/loop"
	"pressrig/drivers"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/telemetry"
)

// openPort opens the rig's port. A rig without a microcontroller has none: the
// person works valves and lever, and the machine only calls the phases.
func openPort(p *rig.Profile, log zerolog.Logger) (drivers.Port, error) {
	if !p.Board {
		return noPort{}, nil
	}
	session, err := newSession()
	if err != nil {
		return nil, err
	}
	port, err := drivers.Open(drivers.Options{
		Path: p.Port, Baud: p.Baud, Device: p.Device, HostSession: session,
		Simulated: p.Simulated,
		Log: func(event string, pairs ...any) {
			log.Debug().Fields(pairs).Msg(event)
		},
	})
	if err != nil {
		return nil, err
	}
	return port, nil
}

// newSession is the random number of this start of the daemon, by which the rig
// tells it from the one before. It is never zero.
func newSession() (uint32, error) {
	var b [4]byte
	if _, err := rand.Read(b[:]); err != nil {
		return 0, fmt.Errorf("session number: %w", err)
	}
	return binary.LittleEndian.Uint32(b[:]) | 1, nil
}

// noPort is the port of a rig without a microcontroller.
type noPort struct{}

var errNoBoard = errors.New("this rig has no microcontroller")

func (noPort) Reports() <-chan drivers.Report { return nil }
func (noPort) Send(*rig.Request) error        { return errNoBoard }
func (noPort) Halt()                          {}
func (noPort) Close() error                   { return nil }
func (noPort) String() string                 { return "no port: assisted mode" }

// openTelemetry starts telemetry, or gives nil where the config wants none.
func openTelemetry(c config, p *rig.Profile, log zerolog.Logger) (*telemetry.Telemetry, error) {
	if c.Broker == brokerNone {
		return nil, nil
	}
	o := telemetry.Options{
		Rig: p.Name, Dir: filepath.Join(c.Data, "telemetry"),
		RateHz: float64(time.Second) / float64(c.Every),
		User:   c.User, PasswordFile: c.PasswordFile, CAFile: c.CAFile,
		CauseText: safety.Sentence, Log: log.With().Str("part", "telemetry").Logger(),
	}
	if c.Broker != brokerEmbedded {
		o.URL = c.Broker
		return telemetry.New(o)
	}
	o.Listen, o.ReaderUser = c.Listen, c.Reader
	if c.ReaderFile != "" {
		text, err := readFile(c.ReaderFile)
		if err != nil {
			return nil, fmt.Errorf("telemetry: reader's password: %w", err)
		}
		o.ReaderPassword = strings.TrimRight(string(text), "\r\n")
	}
	return telemetry.New(o)
}

// publishers are what the loop tells, telemetry only where there is one.
func (s *service) publishers() []loop.Publisher {
	all := []loop.Publisher{s.desk, s.prover, s.panel}
	if s.telemetry != nil {
		all = append(all, s.telemetry)
	}
	return all
}

// makeFolder makes the data folder, closed to others.
func makeFolder(path string) error {
	if err := os.MkdirAll(path, folderMode); err != nil {
		return fmt.Errorf("data folder: %w", err)
	}
	return nil
}
