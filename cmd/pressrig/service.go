package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"pressrig/controller"
	"pressrig/controller/loop"
	"pressrig/drivers"
	"pressrig/journal"
	"pressrig/panel"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
	"pressrig/telemetry"
)

const (
	// folderMode keeps the journal, which names people, from other users.
	folderMode = 0o750
	// stopLongest is how long an orderly stop may take before the daemon closes
	// all the same: the controller keeps soft glass turning, waits for the press
	// to open and for the gas to be shut. After that the warden's leases end.
	stopLongest = (controller.TurnAfterMs + controller.SettleMs + controller.QuietMs) *
		time.Millisecond * 11 / 10
	// stopLook is how often the state is looked at while it stops.
	stopLook = 20 * time.Millisecond
)

// service is the daemon as one value: built, run once, closed. It is the one
// place where the adapters meet; serve and demo both use it.
type service struct {
	cfg       config
	rig       *rig.Profile
	log       zerolog.Logger
	desk      *desk
	prover    *prover
	loop      *loop.Loop
	panel     *panel.Panel
	socket    net.Listener
	telemetry *telemetry.Telemetry          // nil: none wanted
	limits    func() (warden.Config, error) // of the board, once it was read; nil without one
	closer    []func() error                // in the order of opening
}

// newService opens everything that the daemon needs. On an error what was
// opened is closed again.
func newService(cfg config, p *rig.Profile, log zerolog.Logger) (*service, error) {
	s := &service{cfg: cfg, rig: p, log: log}
	if err := s.open(); err != nil {
		return nil, errors.Join(err, s.close())
	}
	return s, nil
}

func (s *service) open() error {
	if err := limitFiles(); err != nil {
		return fmt.Errorf("limit the open files: %w", err)
	}
	if err := makeFolder(s.cfg.Data); err != nil {
		return err
	}
	j, err := s.openJournal()
	if err != nil {
		return err
	}
	shelf, err := shelfOf(s.cfg.Glasses)
	if err != nil {
		return err
	}
	s.desk = newDesk(s.rig, j, shelf)
	if err := s.openProver(j); err != nil {
		return err
	}
	if s.telemetry, err = openTelemetry(s.cfg, s.rig, s.log); err != nil {
		return err
	}
	if s.telemetry != nil {
		s.onClose(s.telemetry.Close)
		s.log.Info().Str("broker", s.telemetry.Address()).Msg("telemetry")
	}
	if err := s.readHead(j, "the journal is open"); err != nil {
		return err
	}
	s.onClose(func() error { // while telemetry can still tell it
		return errors.Join(j.Flush(), s.readHead(j, "the journal closes"))
	})
	if err := s.openPanel(j); err != nil {
		return err
	}
	port, err := openPort(s.rig, s.log)
	if err != nil {
		return err
	}
	s.onClose(port.Close)
	if serial, ok := port.(*drivers.Serial); ok {
		s.limits = serial.Config
	}
	s.loop = loop.New(loop.Options{
		Port: port, Journal: j, Machine: controller.New(controller.Config{Profile: s.rig, Interrupted: len(j.Recovered()) > 0}),
		Publishers: s.publishers(),
		Log:        noteLog(s.log), Accept: s.desk.accept, Simulated: s.rig.Simulated,
	})
	s.desk.loop = s.loop
	return nil
}

func (s *service) openJournal() (*journal.Journal, error) {
	j, err := journal.Open(journalFile(s.cfg.Data), journal.Options{
		MaxBytes: s.cfg.Quota, CauseText: safety.Sentence,
		Ended: func(cycle uint32, h journal.Head) { s.tellHead("the journal has the cycle's end", cycle, h) },
		Fault: func(err error) {
			if err != nil {
				s.log.Error().Err(err).Msg("the journal cannot be written; no new cycle starts")
				return
			}
			s.log.Info().Msg("the journal can be written")
		},
	})
	if err != nil {
		return nil, err
	}
	s.onClose(j.Close)
	for _, c := range j.Recovered() {
		s.log.Warn().Uint32("cycle", c.Number).Dur("saved", c.Saved).
			Msg("a cycle had no end and was closed as aborted; its trace is kept as far as it goes")
	}
	return j, nil
}

// tellHead tells the head of the journal's ledger where whoever changes the
// journal may not reach: to the log, and to MQTT. It never waits.
func (s *service) tellHead(when string, cycle uint32, h journal.Head) {
	s.log.Info().Uint32("cycle", cycle).Int64("entries", h.Entries).Stringer("head", h).Msg(when)
	if s.telemetry != nil {
		s.telemetry.Ledger(cycle, h.Entries, h.String())
	}
}

func (s *service) readHead(j *journal.Journal, when string) error {
	h, err := j.Head()
	if err == nil {
		s.tellHead(when, 0, h)
	}
	return err
}

func (s *service) openPanel(j *journal.Journal) (err error) {
	permit := panel.OwnerWrites(os.Getuid())
	if s.cfg.GroupMay == "command" {
		permit = panel.AllWrite
	}
	s.panel, err = panel.New(panel.Options{
		Rig: s.rig.Name, Daemon: s.desk, Records: records{j}, Causes: safety.Sentence, Proofs: s.prover,
		Now: time.Now, Permit: permit,
		Log: func(err error) { s.log.Error().Err(err).Msg("local API") },
	})
	if err != nil {
		return err
	}
	s.socket, err = panel.Listen(s.cfg.Socket, s.cfg.Group)
	return err // Serve closes it; so does close, when Serve never came
}

func (s *service) onClose(f func() error) { s.closer = append(s.closer, f) }

// run works until ctx ends, then stops a running cycle in order and returns. It
// returns early when the loop or the local API fails.
func (s *service) run(ctx context.Context) error {
	work, end := context.WithCancel(context.WithoutCancel(ctx))
	defer end()
	looped, served := make(chan error, 1), make(chan error, 1)
	go func() {
		defer end() // without a loop there is nothing left to serve or to stop
		looped <- s.loop.Run(work)
	}()
	go func() { served <- s.panel.Serve(work, s.socket) }()
	if s.limits != nil {
		var told sync.WaitGroup
		told.Go(func() { tellLimits(work, s.desk.otherLimits, s.limits, s.rig, s.log) })
		defer told.Wait()
		defer end()
	}
	s.log.Info().Str("rig", s.rig.Name).Str("socket", s.cfg.Socket).
		Msg("serving. " + safety.Notice)
	var err error
	select {
	case <-work.Done():
	case <-ctx.Done():
	case err = <-served: // nobody could command the cycle any more
		served <- nil
	}
	s.stop(work)
	end()
	return errors.Join(err, <-looped, <-served)
}

// stop ends a running cycle in order. When that fails or takes too long the
// daemon closes all the same, and the rig's leases run out.
func (s *service) stop(ctx context.Context) {
	if !s.desk.busy() || ctx.Err() != nil {
		return
	}
	s.log.Info().Msg("closing: the running cycle is stopped first; a second signal ends at once")
	ctx, cancel := context.WithTimeout(ctx, stopLongest)
	defer cancel()
	if err := s.desk.Command(ctx, controller.Stop, panel.Who{By: "daemon closing"}); err != nil {
		s.log.Error().Err(err).Msg("the cycle could not be stopped in order")
	}
	look := time.NewTicker(stopLook)
	defer look.Stop()
	for s.desk.busy() {
		select {
		case <-look.C:
		case <-ctx.Done():
			s.log.Error().Msg("the cycle did not stop in time; the rig's leases run out now")
			return
		}
	}
}

// close closes what was opened, newest first, and tells what went wrong.
func (s *service) close() error {
	var errs []error
	for i := len(s.closer) - 1; i >= 0; i-- {
		errs = append(errs, s.closer[i]())
	}
	s.closer = nil
	return errors.Join(errs...)
}
