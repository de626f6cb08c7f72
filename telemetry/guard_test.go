package telemetry

import (
	"bytes"
	"errors"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"

	"pressrig/alloctest"
)

// SV-062 and the other values of MQTT 3.1.1 table 2.4, size of the remaining
// length.
func TestSV062RemainingLength(t *testing.T) {
	for text, want := range map[string]int{
		"\x00": 0, "\x7f": 127, "\x80\x01": 128, "\xff\x7f": 16383,
		"\x80\x80\x01": 16384, "\xff\xff\xff\x7f": 268435455,
	} {
		if got := remainingLength([]byte(text)); got != want {
			t.Errorf("% x is %d, want %d", text, got, want)
		}
	}
}

// script is a connection that reads a fixed text and swallows writes.
type script struct {
	net.Conn
	r io.Reader
}

func (s script) Read(p []byte) (int, error)       { return s.r.Read(p) }
func (s script) Write(p []byte) (int, error)      { return len(p), nil }
func (s script) SetWriteDeadline(time.Time) error { return nil }
func (s script) Close() error                     { return nil }

func through(text string) (string, error) {
	b, err := io.ReadAll(newGuard(script{r: strings.NewReader(text)}))
	return string(b), err
}

func TestGuardLetsPass(t *testing.T) {
	for _, text := range []string{
		"\x20\x02\x00\x00", "\x40\x02\x00\x01", "\x90\x03\x00\x01\x00", "\xd0\x00",
		"\x30\x05\x00\x03a/bx"[:7], "\x31\x02\x00\x00",
		"\x30\x80\x20" + strings.Repeat("x", maxIncoming),
	} {
		if got, err := through(text + "\xd0\x00"); err != nil || got != text+"\xd0\x00" {
			t.Errorf("% .8x came out as % .8x, %v", text, got, err)
		}
	}
}

func TestGuardRefuses(t *testing.T) {
	for _, text := range []string{
		"\x30\x81\x20" + strings.Repeat("x", maxIncoming+1), // one byte over
		"\x30\xff\xff\xff\x7f", "\x30\x01\x00", "\x20\x03\x00\x00\x00", "\x90\x04\x00\x01\x00\x00",
		"\x32\x07\x00\x03a/b\x00\x01", "\x38\x02\x00\x00", "\x50\x02\x00\x01", "\x10\x00", "\x00\x00",
		"\x30\xff\xff\xff\xff\x01",
	} {
		if got, err := through(text); err == nil || got != "" {
			t.Errorf("% .8x passed", text)
		}
	}
}

func TestGuardFloodEdge(t *testing.T) {
	flood := func(n int) error { _, err := through(strings.Repeat("\xd0\x00", n)); return err }
	if err := flood(maxUnasked); err != nil {
		t.Errorf("%d packets: %v", maxUnasked, err)
	}
	if err := flood(maxUnasked + 1); !errors.Is(err, errFlood) {
		t.Errorf("%d packets: %v, want a flood", maxUnasked+1, err)
	}
	g := newGuard(script{r: strings.NewReader(strings.Repeat("\xd0\x00", 5*maxUnasked))})
	for i := range 5 * maxUnasked { // each answers something
		if _, err := g.Write([]byte("\xc0\x00")); err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadFull(g, make([]byte, 2)); err != nil {
			t.Fatalf("answer %d: %v", i, err)
		}
	}
}

// mostTaking bounds, in bytes, what n bytes of a broker make the guard and the
// client library behind it allocate: a topic may announce 64 KiB, once, because
// it then ends the connection. Without the guard the five bytes of the second
// seed make the library allocate 256 MB.
func mostTaking(n int) int { return 256<<10 + 256*n }

// Whatever a broker sends, the guard gives a prefix of it that consists of
// permitted packets, and never more than it got; and the client library, which
// has a payload on the command topic whole, can take it.
func FuzzGuard(f *testing.F) {
	f.Add([]byte("\x20\x02\x00\x00\x90\x03\x00\x01\x00"))
	f.Add([]byte("\x30\xff\xff\xff\x7f"))
	f.Add([]byte("\x30\x11\x00\x0dpressrig/x/cmdgo"))
	f.Add([]byte("\x31\x09\xff\xff{\"a\":[1"))
	f.Fuzz(func(t *testing.T, text []byte) {
		alloctest.Within(t, mostTaking(len(text)), func() {
			g := newGuard(script{r: bytes.NewReader(text)})
			for err := error(nil); err == nil; {
				_, err = packets.ReadPacket(g)
			}
		})
		got, _ := through(string(text))
		if !bytes.HasPrefix(text, []byte(got)) {
			t.Fatalf("% x came out as % x", text, got)
		}
		r := bytes.NewReader([]byte(got))
		for r.Len() > 0 {
			kind, body, err := readPacket(r)
			if err != nil {
				return // the last one was cut short by the text's end
			}
			if err := permitted(kind, len(body)); err != nil {
				t.Fatalf("let through: %v", err)
			}
		}
	})
}
