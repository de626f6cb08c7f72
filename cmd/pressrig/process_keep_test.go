//go:build linux && processes

package main

import (
	"context"
	"database/sql"
	"fmt"
	"net"
	"os/exec"
	"strings"
	"testing"

	"pressrig/panel/api"
	"pressrig/safety"
)

// What keeps records and tells of the cycle may fail without any effect on it.

// TestBrokerKilled: the cycle completes, and the daemon keeps on trying.
func TestBrokerKilled(t *testing.T) {
	t.Parallel()
	brokerKilled(t, newStand)
}

func brokerKilled(t *testing.T, newStand standMaker) {
	address := freeAddress(t)
	broker := mosquitto(t, address)
	s := newStand(t, quick, "telemetry: {broker: 'tcp://"+address+"'}\n")
	takes(s, broker, "/state'")
	n, _ := s.fires()
	broker.kill(t)
	if c := s.ends(n); c.State != "complete" || c.Cause != 0 {
		t.Errorf("cycle is %s (%s), first cause %d; complete is right", c.State, c.Reason, c.Cause)
	}
	s.sound(n)
	again := mosquitto(t, address)
	takes(s, again, "/cycle'") // the summary that waited on disk
	if err := s.client.Command(t.Context(), "reset", tester); err != nil {
		t.Error(err)
	}
	s.starts()
	s.closes()
}

// takes waits until the broker has taken a message on a topic that ends so.
func takes(s *stand, broker *process, topic string) {
	s.t.Helper()
	s.wait("the broker has a message on "+topic, func() bool {
		for line := range strings.Lines(broker.said.String()) {
			if strings.Contains(line, "Received PUBLISH") && strings.Contains(line, topic) {
				return true
			}
		}
		return false
	})
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// mosquitto runs Debian's broker, which `make test` installs.
func mosquitto(t *testing.T, address string) *process {
	t.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		path = "/usr/sbin/mosquitto" // not on every user's path
	}
	_, port, err := net.SplitHostPort(address)
	if err != nil {
		t.Fatal(err)
	}
	return launch(t, path, "-v", "-p", port) // without a config: loopback alone
}

// smallQuota is the least that the config takes.
const smallQuota = 3_000_000

// TestJournalFull: with the journal's disk full the running cycle completes, the
// next start is refused, and taken again when there is room.
func TestJournalFull(t *testing.T) {
	t.Parallel()
	journalFull(t, newStand)
}

func journalFull(t *testing.T, newStand standMaker) {
	s := newStand(t, quick, noBroker+"journal: {quota: 3 MB}\n")
	n, _ := s.fires()
	fill := filler(t, s)
	fill(`CREATE TABLE filler (x BLOB)`)
	fill(fmt.Sprintf(`INSERT INTO filler VALUES (zeroblob(%d))`, smallQuota))
	at := s.until("the cycle has ended", func(f *api.Frame) bool {
		return f.Status.Cycle == n && over(f.Status.State)
	})
	if at.Status.State != "complete" {
		t.Errorf("cycle is %s (%s); complete is right", at.Status.State, at.Status.Reason)
	}
	if c, err := s.client.Cycle(t.Context(), n); err != nil || c.State != "" {
		t.Errorf("the full journal has the end %q of the cycle: %v", c.State, err)
	}
	if err := s.client.Command(t.Context(), "reset", tester); err != nil {
		t.Error(err)
	}
	s.refuses("the journal cannot be written")
	fill(`DROP TABLE filler`)
	c := s.stored(n) // what was kept in memory is written now
	if c.State != "complete" || c.Lost != 0 || c.Recovered {
		t.Errorf("cycle is stored as %s, %d records lost, recovered %v", c.State, c.Lost, c.Recovered)
	}
	said := false
	for _, e := range c.Events {
		said = said || e.Kind == "alarm" && strings.Contains(e.Text,
			safety.Sentence(safety.RowJournalRunning))
	}
	if !said {
		t.Error("the story of the cycle does not tell that the journal failed")
	}
	s.wait("the journal can be written", func() bool {
		return strings.Contains(s.daemon.said.String(), "the journal can be written")
	})
	s.sound(n)
	s.starts()
	s.closes()
}

// filler takes room in the journal's file beside the daemon, whose connection
// alone has the quota.
func filler(t *testing.T, s *stand) func(string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+journalFile(s.path("data"))+"?_busy_timeout=20000")
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() })
	return func(statement string) {
		t.Helper()
		if _, err := db.ExecContext(context.Background(), statement); err != nil {
			t.Fatal(err)
		}
	}
}
