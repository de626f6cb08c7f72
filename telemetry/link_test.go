package telemetry

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"reflect"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"pressrig/controller"
	"pressrig/telemetry/broker"
)

// All tests of this file run brokers and clients on virtual time.

func TestTellsEverythingToASubscriber(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		o := options(t, n)
		o.URL, o.User, o.Password, o.Listener = "", "", "", n.open()
		tel := start(t, o)
		sub := subscribe(t, n.dial, tel.Address())
		sub.nextWith(t, "status", `"online"`)

		idle := &controller.Status{State: controller.Idle, Phase: -1}
		tel.Tell(idle, hotSnapshot())
		sub.nextWith(t, "state", `"state":"idle"`)
		tel.Tell(pressing(), hotSnapshot())
		sub.nextWith(t, "phase", `"phase":"form"`)
		sub.nextWith(t, "state", `"doing":"press to 45 N"`)
		tel.Record(controller.Record{Kind: controller.RecTrip, Cycle: 12, Cause: 3,
			Causes: 1<<3 | 1<<1, Lockout: true})
		sub.nextWith(t, "trip", `"first":{"row":3,"text":"flame lost"}`)
		tel.Record(controller.Record{Kind: controller.RecAlarm, Cycle: 12, Cause: 18})
		sub.nextWith(t, "alarm", `"glass too hot"`)
		endCycle(tel, 12)
		sub.nextWith(t, "cycle", `"state":"complete"`)

		if err := tel.Close(); err != nil {
			t.Error(err)
		}
		sub.nextWith(t, "status", `"offline","why":"closed"`)
		sub.close()
	})
}

// The newest head of the ledger is retained, told again on each connection, and
// the one told last reaches the broker before the daemon is offline.
func TestTheHeadIsRetained(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		tel := start(t, options(t, n))
		tel.Ledger(0, 7, "aa")
		tel.Ledger(12, 9, "bb") // while nobody listens
		b := plainBroker(t, n.open())
		sub := subscribe(t, n.dial, tel.Address())
		sub.nextWith(t, "ledger", `"cycle":12,"entries":9,"head":"bb"`)
		sub.close()
		b.Close()
		b = plainBroker(t, n.open())
		sub = subscribe(t, n.dial, tel.Address())
		sub.nextWith(t, "ledger", `"entries":9`)
		tel.Ledger(0, 11, "cc")
		if err := tel.Close(); err != nil {
			t.Error(err)
		}
		sub.nextWith(t, "ledger", `"cycle":0,"entries":11,"head":"cc"`)
		sub.nextWith(t, "status", "offline")
		late := subscribe(t, n.dial, tel.Address())
		if m := late.nextWith(t, "ledger", `"entries":11`); !m.retained {
			t.Error("the newest head is not retained")
		}
		sub.close()
		late.close()
		b.Close()
	})
}

func TestChannelsComeAtTheirRate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		b := plainBroker(t, n.open())
		tel := start(t, options(t, n))
		sub := subscribe(t, n.dial, tel.Address())
		sub.nextWith(t, "status", `"online"`)
		tick := time.NewTicker(10 * time.Millisecond)
		for range 1000 { // 10 s of the supervisor's 100 Hz
			tel.Tell(pressing(), hotSnapshot())
			<-tick.C
		}
		tick.Stop()
		tel.Close()
		sub.nextWith(t, "status", "offline")
		sub.close()
		b.Close()
		if n := tel.samples.first; n < 20 || n > 21 {
			t.Errorf("%d channel messages in 10 s, want 20 (2 Hz)", n)
		}
	})
}

func TestBrokerDownAtStartThenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		log := newLogged()
		o := options(t, n)
		o.Log = zerolog.New(log)
		tel := start(t, o)
		log.wait(t, "connection refused")
		if h := tel.Health(); h.Connected || h.Row != RowBrokerLost || h.Problem == "" {
			t.Errorf("health %+v, want not connected, row 29 and why", h)
		}
		endCycle(tel, 1)
		b := plainBroker(t, n.open())
		sub := subscribe(t, n.dial, tel.Address())
		sub.nextWith(t, "cycle", `"cycle":1`)
		synctest.Wait()
		if h := tel.Health(); !h.Connected || h.Row != 0 || h.Problem != "" || h.SummariesWaiting != 0 {
			t.Errorf("health %+v, want well", h)
		}
		tel.Close()
		sub.close()
		b.Close()
	})
}

func TestBrokerKilledMidWayThenBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		b := plainBroker(t, n.open())
		tel := start(t, options(t, n))
		sub := subscribe(t, n.dial, tel.Address())
		sub.nextWith(t, "status", `"online"`)
		endCycle(tel, 1)
		sub.nextWith(t, "cycle", `"cycle":1`)
		sub.close()
		b.Close()
		for i := range uint32(50) {
			endCycle(tel, 2+i)
		}
		tel.Record(controller.Record{Kind: controller.RecTrip, Cycle: 51, Cause: 1, Causes: 1 << 1})

		b = plainBroker(t, n.open())
		sub = subscribe(t, n.dial, tel.Address())
		for i := range 50 { // in order, none missing
			sub.nextWith(t, "cycle", fmt.Sprintf(`"cycle":%d,`, 2+i))
		}
		tel.Close()
		sub.close()
		b.Close()
	})
}

func TestSummariesSurviveARestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		o := options(t, n)
		tel := start(t, o) // no broker
		for i := range uint32(3) {
			endCycle(tel, 1+i)
		}
		tel.Close()
		tel = start(t, o) // the next process, the same folder
		if h := tel.Health(); h.SummariesWaiting != 3 {
			t.Fatalf("%d summaries wait, want 3", h.SummariesWaiting)
		}
		endCycle(tel, 4)
		synctest.Wait() // its first attempt has failed
		b := plainBroker(t, n.open())
		sub := subscribe(t, n.dial, tel.Address())
		for i := range 4 {
			sub.nextWith(t, "cycle", fmt.Sprintf(`"cycle":%d,`, 1+i))
		}
		tel.Close()
		sub.close()
		b.Close()
	})
}

// A PUBACK that gets lost means the same summary twice, with the same id.
func TestLostPubackSendsAgainWithTheSameID(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		l := n.open()
		tel := start(t, options(t, n))
		fake := accept(t, l)
		endCycle(tel, 7)
		first := fake.untilPublish(t, "/cycle")
		fake.Close() // in place of the PUBACK
		fake = accept(t, l)
		second := fake.untilPublish(t, "/cycle")
		if id(t, first) == "" || id(t, first) != id(t, second) {
			t.Errorf("ids %q and %q, want the same", id(t, first), id(t, second))
		}
		fake.Close()
		l.Close()
		tel.Close()
	})
}

func id(t *testing.T, payload []byte) string {
	t.Helper()
	var v struct{ ID string }
	if err := json.Unmarshal(payload, &v); err != nil {
		t.Fatalf("%v: %s", err, payload)
	}
	return v.ID
}

// SV-061: a silent cut with keep-alive 10 s means offline within 15 s (+1 s).
// Source: MQTT 3.1.1, MQTT-3.1.2-24, server drops a client that is silent for
// one and a half keep-alives.
func TestSV061SilentCutMeansOffline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		b := plainBroker(t, n.open())
		reader := &network{door: n.door} // the reader's own wires are not cut
		tel := start(t, options(t, n))
		sub := subscribe(t, reader.dial, tel.Address())
		sub.nextWith(t, "status", `"online"`)
		cut := time.Now()
		n.silent.Store(true)
		m := sub.nextWith(t, "status", `"offline","why":"connection lost"`)
		if d := time.Since(cut); d > 16*time.Second {
			t.Errorf("offline %v after the cut, want at most 16 s", d)
		}
		if !bytes.Contains(m.payload, []byte(`"rig":"bench"`)) {
			t.Errorf("last will %s", m.payload)
		}
		tel.Close()
		sub.close()
		b.Close()
	})
}

// SV-063: a retained command is ignored and logged, and so is a live one.
func TestSV063CommandsAreIgnored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		b, err := broker.Start(broker.Options{Listener: n.open(), Prefix: DefaultPrefix,
			ClientID: "attacker", User: "u", Password: "p", Log: zerolog.Nop()})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = b.Close() })
		attacker := attack(t, n)
		topic := DefaultPrefix + "/bench/command"
		attacker.publish(t, topic, true, `{"command":"start"}`)

		log := newLogged()
		o := options(t, n)
		o.User, o.Password, o.Log = "", "", zerolog.New(log) // a reader: that is enough to listen
		tel := start(t, o)
		log.wait(t, "ignored: retained")
		attacker.publish(t, topic, false, `{"command":"start"}`)
		line := log.wait(t, "ignored: commands are not accepted over MQTT")
		if strings.Contains(line, "start") {
			t.Errorf("log repeats what a stranger wrote: %s", line)
		}
		if h := tel.Health(); h.IgnoredRetained != 1 || h.IgnoredLive != 1 {
			t.Errorf("health %+v, want one retained and one live", h)
		}
		tel.Close()
		attacker.close()
		b.Close()
	})
}

// Invariant 13 by construction: nothing that Telemetry is given or gives could
// carry a command to the loop.
func TestSV063NoWayBack(t *testing.T) {
	allowed := map[string]bool{"Now": true, "CauseText": true, "Dial": true}
	options := reflect.TypeFor[Options]()
	for i := range options.NumField() {
		f := options.Field(i)
		if k := f.Type.Kind(); (k == reflect.Func || k == reflect.Chan) && !allowed[f.Name] {
			t.Errorf("Options.%s is a %v: a way for network input to reach the loop (invariant 13)",
				f.Name, k)
		}
	}
	methods := map[string]bool{"Address": true, "Close": true, "Health": true,
		"Ledger": true, "Record": true, "Tell": true}
	telemetry := reflect.TypeFor[*Telemetry]()
	for i := range telemetry.NumMethod() {
		if name := telemetry.Method(i).Name; !methods[name] {
			t.Errorf("method %s is new: it must not hand out network input (invariant 13)", name)
		}
	}
}

// SV-064, the part that is telemetry's: with a broker that takes the
// connection and never answers, a whole cycle of calls returns without
// waiting, leaves its arguments as they were, and costs bounded memory.
func TestSV064HalfOpenBrokerNeverHoldsTheCaller(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		l := n.open()
		go func() {
			for {
				if _, err := l.Accept(); err != nil {
					return
				}
			}
		}()
		tel := start(t, options(t, n))
		began := time.Now()
		status, snap := pressing(), hotSnapshot()
		for i := range uint32(18000) { // 180 s at 100 Hz, all at one instant
			status.Cycle = i
			tel.Tell(status, snap)
			tel.Record(controller.Record{Kind: controller.RecMark, Cycle: i})
		}
		if d := time.Since(began); d != 0 {
			t.Errorf("the caller waited %v", d)
		}
		want := pressing()
		want.Cycle = 17999
		if *status != *want || *snap != *hotSnapshot() {
			t.Error("arguments were changed")
		}
		<-time.After(time.Minute) // virtual: attempts time out and are made again
		if h := tel.Health(); h.Connected || !strings.Contains(h.Problem, "connect") {
			t.Errorf("health %+v, want not connected and why", h)
		}
		began = time.Now()
		tel.Close()
		if d := time.Since(began); d > 2*time.Second {
			t.Errorf("close took %v, want at most the flush time", d)
		}
		l.Close()
	})
}

func TestBrokerRefusesTheLogin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		b := plainBroker(t, n.open())
		log := newLogged()
		o := options(t, n)
		o.Password, o.Log = "wrong-secret", zerolog.New(log)
		tel := start(t, o)
		line := log.wait(t, "telemetry has no broker")
		if strings.Contains(line, "wrong-secret") {
			t.Errorf("log holds the password: %s", line)
		}
		<-time.After(10 * time.Minute) // virtual
		tries := b.Counts().Logins
		if tries < 10 || tries > 40 {
			t.Errorf("%d attempts in 10 minutes, want about one in 30 s", tries)
		}
		if len(log.lines) != 0 {
			t.Errorf("the same refusal is logged again: %s", <-log.lines)
		}
		tel.Close()
		b.Close()
	})
}

// A broker that floods is left, and nothing of what it sent is kept.
func TestFloodEndsTheConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := &network{}
		l := n.open()
		tel := start(t, options(t, n))
		fake := accept(t, l)
		flood := []byte("\x30\x1a\x00\x16pressrig/bench/commandab")
		var err error
		sent := 0
		for ; err == nil && sent < 100_000; sent++ {
			_, err = fake.Write(flood)
		}
		if err == nil || sent > 2*maxUnasked {
			t.Errorf("%d packets taken, %v; want the connection ended near %d", sent, err, maxUnasked)
		}
		if h := tel.Health(); h.IgnoredLive < maxUnasked/2 || h.IgnoredLive > maxUnasked {
			t.Errorf("%d ignored, want about %d", h.IgnoredLive, maxUnasked)
		}
		fake.Close()
		l.Close()
		tel.Close()
	})
}

// What a broker may do wrong in its answers ends in an error, not in a panic.
func TestHostileAnswers(t *testing.T) {
	for name, packet := range map[string]string{
		"huge publish":          "\x30\xff\xff\xff\x7f",
		"suback with 200 codes": "\x90\xca\x01\x00\x01" + strings.Repeat("\x00", 200),
		"suback without code":   "\x90\x02\x00\x01",
		"qos 2":                 "\x34\x07\x00\x03a/b\x00\x01",
		"pubrec":                "\x50\x02\x00\x01",
		"connect":               "\x10\x00",
		"reserved type":         "\xf0\x00",
		"five length bytes":     "\x30\xff\xff\xff\xff\x01",
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				n := &network{}
				l := n.open()
				tel := start(t, options(t, n))
				fake := accept(t, l)
				_, _ = fake.Write([]byte(packet))
				next := accept(t, l) // it came back: the daemon lives
				next.Close()
				fake.Close()
				l.Close()
				tel.Close()
			})
		})
	}
}

func TestCloseWithoutABrokerIsQuick(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		tel := start(t, options(t, &network{}))
		began := time.Now()
		tel.Close()
		tel.Close() // and twice is as good as once
		if d := time.Since(began); d != 0 {
			t.Errorf("close took %v with nothing to wait for", d)
		}
		tel.Tell(pressing(), nil)
		tel.Record(controller.Record{Kind: controller.RecMark})
		if tel.inbox.n != 0 || tel.samples.n != 0 {
			t.Error("took more after close")
		}
	})
}

// fakeBroker speaks just enough to be connected to.
type fakeBroker struct{ net.Conn }

// accept lets the daemon connect and subscribe and takes its online status.
func accept(t *testing.T, l net.Listener) *fakeBroker {
	t.Helper()
	conn, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	f := &fakeBroker{conn}
	f.take(t, 0x10)
	f.answer(t, "\x20\x02\x00\x00")
	f.take(t, 0x82)
	f.answer(t, "\x90\x03\x00\x01\x00")
	f.untilPublish(t, "/status")
	f.answer(t, "\x40\x02\x00\x02")
	return f
}

func (f *fakeBroker) answer(t *testing.T, packet string) {
	t.Helper()
	if _, err := f.Write([]byte(packet)); err != nil {
		t.Fatal(err)
	}
}

func (f *fakeBroker) take(t *testing.T, kind byte) []byte {
	t.Helper()
	got, body, err := readPacket(f)
	if err != nil || got&0xFE != kind {
		t.Fatalf("got packet 0x%02x, %v; want 0x%02x", got, err, kind)
	}
	return body
}

// untilPublish acknowledges everything up to a publish on a topic that ends
// so, and gives its payload.
func (f *fakeBroker) untilPublish(t *testing.T, ends string) []byte {
	t.Helper()
	for {
		kind, body, err := readPacket(f)
		if err != nil {
			t.Fatal(err)
		}
		if kind&0xF0 != 0x30 {
			continue
		}
		size := int(body[0])<<8 | int(body[1])
		topic, rest := string(body[2:2+size]), body[2+size:]
		if kind&0x06 == 0 {
			continue
		}
		if strings.HasSuffix(topic, ends) {
			return rest[2:]
		}
		f.answer(t, "\x40\x02"+string(rest[:2]))
	}
}

func readPacket(r interface{ Read([]byte) (int, error) }) (byte, []byte, error) {
	one := make([]byte, 1)
	read := func(p []byte) error {
		for len(p) > 0 {
			n, err := r.Read(p)
			if err != nil {
				return err
			}
			p = p[n:]
		}
		return nil
	}
	if err := read(one); err != nil {
		return 0, nil, err
	}
	kind := one[0]
	var head []byte
	for {
		if err := read(one); err != nil {
			return 0, nil, err
		}
		head = append(head, one[0])
		if one[0] < 0x80 {
			break
		}
		if len(head) > 4 {
			return 0, nil, errors.New("length too long")
		}
	}
	body := make([]byte, remainingLength(head))
	return kind, body, read(body)
}
