package main

import (
	"context"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/controller/loop"
	"pressrig/drivers"
	"pressrig/panel"
	"pressrig/panel/client"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety"
)

// stopMachine marks each stop in its request.
type stopMachine struct{ stops uint16 }

func (m *stopMachine) Step(in *controller.Input, out *controller.Output) {
	if in.Command == controller.Stop {
		m.stops++
	}
	*out = controller.Output{Send: in.Session != 0}
	out.Request.ArmID = m.stops
}

// stopPort tells when a request with a new mark is handed to the driver.
type stopPort struct {
	reports chan drivers.Report
	marked  chan uint16
	last    uint16
}

func (p *stopPort) Reports() <-chan drivers.Report { return p.reports }
func (p *stopPort) Halt()                          {}
func (p *stopPort) Close() error                   { return nil }
func (p *stopPort) String() string                 { return "port of a benchmark" }

func (p *stopPort) Send(r *rig.Request) error {
	if r.ArmID != p.last {
		p.last = r.ArmID
		p.marked <- r.ArmID
	}
	return nil
}

// noJournal is a journal that keeps nothing.
type noJournal struct{}

func (noJournal) Append(controller.Record)                   {}
func (noJournal) AppendStep(*controller.Input, *rig.Request) {}
func (noJournal) Health() (h controller.JournalHealth)       { return h }

// loopDaemon hands commands to a loop and does nothing else.
type loopDaemon struct{ desk }

func (*loopDaemon) Recipes() []*recipes.Recipe { return nil }

// BenchmarkStopOverTheAPI: from a stop that a client asks for, through the unix
// socket, the local API and the loop, to the request handed to the driver.
// Together with BenchmarkStopToWire of package loop, which goes on from there
// to the wire, the target is a p99 of 3 ms over the pty's own floor.
func BenchmarkStopOverTheAPI(b *testing.B) {
	port := &stopPort{reports: make(chan drivers.Report, 1), marked: make(chan uint16, 1)}
	l := loop.New(loop.Options{Port: port, Machine: &stopMachine{}, Journal: noJournal{}})
	p, err := panel.New(panel.Options{Rig: "bench", Daemon: &loopDaemon{desk{loop: l}},
		Records: fakeRecords{}, Causes: safety.Sentence, Now: time.Now})
	if err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(b.TempDir(), "s")
	socket, err := panel.Listen(path, "")
	if err != nil {
		b.Fatal(err)
	}
	ctx, end := context.WithCancel(context.Background())
	ended := make(chan error, 2)
	go func() { ended <- l.Run(ctx) }()
	go func() { ended <- p.Serve(ctx, socket) }()
	port.reports <- drivers.Report{Kind: drivers.ReportHello,
		Caps: rig.Capabilities{Session: 1, Scale: 1}}
	c := client.New(path)
	took := make([]time.Duration, 0, 4096)
	for b.Loop() {
		start := time.Now()
		done := make(chan error, 1)
		go func() { done <- c.Command(ctx, "stop", "benchmark") }()
		<-port.marked
		took = append(took, time.Since(start))
		if err := <-done; err != nil {
			b.Fatal(err)
		}
	}
	end()
	for range 2 {
		if err := <-ended; err != nil {
			b.Error(err)
		}
	}
	slices.Sort(took)
	at := func(share float64) float64 {
		return took[int(share*float64(len(took)-1))].Seconds() * 1000
	}
	b.ReportMetric(at(0.5), "ms-p50")
	b.ReportMetric(at(0.99), "ms-p99")
}
