package wire

import (
	"bytes"
	"encoding/binary"
	"testing"
)

// flipped runs try over stream with every single bit and every pair of bits
// flipped.
func flipped(stream []byte, try func(b []byte, i, j int)) {
	b := bytes.Clone(stream)
	n := 8 * len(b)
	for i := range n {
		b[i/8] ^= 1 << (i % 8)
		try(b, i, i)
		for j := i + 1; j < n; j++ {
			b[j/8] ^= 1 << (j % 8)
			try(b, i, j)
			b[j/8] ^= 1 << (j % 8)
		}
		b[i/8] ^= 1 << (i % 8)
	}
}

// SV-011 (safety.md 5.3, exhaustive simulation there): all 1- and 2-bit flips
// of the bytes on the line of every message, both delimiters included; none is
// accepted. A delimiter more follows, as the next frame would bring it.
func TestNoFlippedFrameIsAccepted(t *testing.T) {
	for _, s := range samples() {
		stream := append([]byte{0}, s.wire...)
		var f Frame
		tried, accepted := 0, 0
		flipped(stream, func(b []byte, i, j int) {
			var split Splitter
			split.Feed(0)
			tried++
			for k := range len(b) + 1 {
				v := byte(0)
				if k < len(b) {
					v = b[k]
				}
				if raw, ok := split.Feed(v); ok && Decode(raw, s.from, &f) == Accepted {
					accepted++
					t.Errorf("%s: flips %d and %d: accepted", s.name, i, j)
				}
			}
		})
		bits := 8 * len(stream)
		if want := bits * (bits + 1) / 2; tried != want {
			t.Errorf("%s: %d streams tried, want %d", s.name, tried, want)
		}
		if accepted != 0 {
			t.Errorf("%s: %d of %d accepted, want 0", s.name, accepted, tried)
		}
	}
}

// SV-012 (safety.md 5.3): the delimiter before a frame turned into 01 puts a
// zero byte in front of it.
func TestDelimiterFlipIsRefused(t *testing.T) {
	for _, s := range samples() {
		var f Frame
		raw := append([]byte{1}, s.wire[:len(s.wire)-1]...)
		if v := Decode(raw, s.from, &f); v != Corrupt {
			t.Errorf("%s: %v, want corrupt", s.name, v)
		}
	}
}

// The first trap of safety.md 5.3, found there by simulation: behind COBS a
// 16-bit CRC of Hamming distance 4 accepts a 2-bit error, since a flip in a
// code byte moves zeros about. The bad twin below is such a frame, found by
// search; our CRC refuses every 2-bit error around the same payload.
func TestTrapShortCRCBehindCOBS(t *testing.T) {
	payload := []byte{0, 0x15, 0x55, 0, 0x0B, 0, 0, 0, 0, 0x85, 0xC9, 0x69}
	twin := binary.LittleEndian.AppendUint16(bytes.Clone(payload), uint16(sdlc.sum(payload)))
	wire := EncodeCOBS(nil, twin)
	wire[1] ^= 1 << 2
	wire[13] ^= 1 << 2
	plain := make([]byte, MaxFrame)
	n, ok := DecodeCOBS(plain, wire)
	if !ok || n < 2 {
		t.Fatal("the twin's frame does not decode")
	}
	wrong := plain[:n-2]
	if sdlc.sum(wrong) != uint32(binary.LittleEndian.Uint16(plain[n-2:])) {
		t.Fatal("the bad twin refuses its frame: this is no regression test any more")
	}
	if bytes.Equal(wrong, payload) {
		t.Fatal("the bad twin accepted the right frame, not a wrong one")
	}

	ours := craft(FromMCU, Version, ClassEvent, payload)
	var f Frame
	flipped(ours, func(b []byte, i, j int) {
		if v := Decode(b, FromMCU, &f); v != Corrupt {
			t.Errorf("ours: flips %d and %d: %v", i, j, v)
		}
	})
}

// The second trap of safety.md 5.3: a CRC that starts at zero does not see a
// zero byte in front, which the flip of SV-012 puts there. Our start value and
// the length byte each refuse it.
func TestTrapZeroStartWithoutLength(t *testing.T) {
	payload := []byte("any twelve b")
	twin := binary.LittleEndian.AppendUint16(bytes.Clone(payload), uint16(dnp.sum(payload)))
	wire := append([]byte{1}, EncodeCOBS(nil, twin)...) // delimiter 00 became 01
	plain := make([]byte, MaxFrame)
	n, ok := DecodeCOBS(plain, wire)
	if !ok || n != len(payload)+3 {
		t.Fatalf("the twin decodes to %d bytes, %v", n, ok)
	}
	if dnp.sum(plain[:n-2]) != uint32(binary.LittleEndian.Uint16(plain[n-2:])) {
		t.Fatal("the bad twin refuses its frame: this is no regression test any more")
	}

	body := bytes.Clone(payload)
	shifted := append([]byte{0}, body...)
	if crc32c.sum(body) == crc32c.sum(shifted) {
		t.Error("our start value does not see a leading zero")
	}
	var f Frame
	ours := append([]byte{1}, craft(FromHost, Version, ClassRequest, body)...)
	if v := Decode(ours, FromHost, &f); v != Corrupt {
		t.Errorf("ours: %v, want corrupt", v)
	}
}

// line8N1 is the line level, bit by bit, of bytes sent without a pause.
func line8N1(b []byte) []byte {
	var level []byte
	for _, v := range b {
		level = append(level, 0)
		for i := range 8 {
			level = append(level, v>>i&1)
		}
		level = append(level, 1)
	}
	return level
}

// uart reads levels as a receiver does: a start bit, eight bits, and a stop
// bit that drops the byte when it is not there.
func uart(level []byte) []byte {
	var out []byte
	for i := 0; i < len(level); {
		if level[i] == 1 {
			i++ // idle
			continue
		}
		var v byte
		for bit := range 8 {
			if i+1+bit < len(level) {
				v |= level[i+1+bit] << bit
			} else {
				v |= 1 << bit // the line is idle after the end
			}
		}
		if i+9 >= len(level) || level[i+9] == 1 {
			out = append(out, v)
		}
		i += 10
	}
	return out
}

// A UART that slips reads all that follows shifted by a bit, until a pause.
// Whatever it makes of a frame is that frame or none.
func TestBitSlipsAreRefused(t *testing.T) {
	for _, s := range samples() {
		level := line8N1(append([]byte{0}, s.wire...))
		refused := 0
		for at := range level {
			for _, slip := range [][]byte{
				append(bytes.Clone(level[:at]), level[at+1:]...),
				append(append(bytes.Clone(level[:at]), 0), level[at:]...),
				append(append(bytes.Clone(level[:at]), 1), level[at:]...),
			} {
				if !slipPasses(t, s, slip) {
					refused++
				}
			}
		}
		if refused == 0 {
			t.Errorf("%s: no slip did any harm; the test injects nothing", s.name)
		}
	}
}

// slipPasses reports whether a frame came through, which must be the sent one.
func slipPasses(t *testing.T, s sample, level []byte) bool {
	var f Frame
	passed := false
	for _, raw := range frames(append(uart(level), 0)) {
		if Decode(raw, s.from, &f) != Accepted {
			continue
		}
		passed = true
		if !bytes.Equal(raw, s.wire[:len(s.wire)-1]) {
			t.Errorf("%s: a slipped frame was accepted: % X", s.name, raw)
		}
	}
	return passed
}
