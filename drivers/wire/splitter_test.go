package wire

import (
	"bytes"
	"testing"

	"pressrig/alloctest"
)

func TestSplitter(t *testing.T) {
	longest := bytes.Repeat([]byte{7}, MaxEncoded)
	tests := []struct {
		why    string
		stream []byte
		want   [][]byte
	}{
		{"rest of a frame from before is passed over", []byte{1, 2, 0, 3, 0}, [][]byte{{3}}},
		{"delimiters in a row are idle", []byte{0, 0, 0, 4, 5, 0, 0, 6, 0}, [][]byte{{4, 5}, {6}}},
		{"a frame without its end waits", []byte{0, 1, 2}, nil},
		{"longest frame", join([]byte{0}, longest, []byte{0}), [][]byte{longest}},
		{"one byte too long, then a good one",
			join([]byte{0}, longest, []byte{7, 0, 8, 0}), [][]byte{nil, {8}}},
		{"much too long before the first delimiter",
			join(longest, longest, []byte{0, 9, 0}), [][]byte{{9}}},
	}
	for _, tt := range tests {
		var s Splitter
		var got [][]byte
		for _, b := range tt.stream {
			if raw, ok := s.Feed(b); ok {
				got = append(got, bytes.Clone(raw))
			}
		}
		if len(got) != len(tt.want) {
			t.Errorf("%s: %d frames, want %d", tt.why, len(got), len(tt.want))
			continue
		}
		for i := range got {
			if !bytes.Equal(got[i], tt.want[i]) || (got[i] == nil) != (tt.want[i] == nil) {
				t.Errorf("%s: frame %d is % X, want % X", tt.why, i, got[i], tt.want[i])
			}
		}
	}
}

// Whatever comes, nothing panics, no frame is longer than it may be, and a
// good frame behind one delimiter still comes through.
func FuzzSplitter(f *testing.F) {
	for _, s := range samples() {
		f.Add(s.wire)
	}
	f.Add([]byte{0, 0, 1})
	f.Add(bytes.Repeat([]byte{0xFF}, 2*MaxEncoded))
	good := snapshot(11)
	f.Fuzz(func(t *testing.T, noise []byte) {
		r := NewHostReceiver(testDevice, testHost+1) // no frame below is of this host
		known := host(t)
		var s Splitter
		var fr Frame
		stream := append(append(append([]byte{}, noise...), 0), good...)
		last := Verdict(0)
		for _, b := range stream {
			raw, ok := s.Feed(b)
			if !ok {
				continue
			}
			if len(raw) > MaxEncoded {
				t.Fatalf("frame of %d bytes", len(raw))
			}
			if r.Take(raw, 0, &fr) == Accepted {
				t.Fatalf("accepted % X", raw)
			}
			last = known.rx.Take(raw, known.nowMs, &known.f)
		}
		if last != Accepted && last != Repeated && last != OutOfOrder {
			t.Errorf("the good frame behind the noise was %v", last)
		}
	})
}

// mostDecoding bounds, in bytes, what decoding allocates however long the input
// is: nothing, and this is for the noise of the measurement.
const mostDecoding = 1 << 10

// Whatever is accepted encodes again to the very bytes that came.
func FuzzDecode(f *testing.F) {
	for _, s := range samples() {
		f.Add(s.wire[:len(s.wire)-1], s.from == FromHost)
	}
	f.Fuzz(func(t *testing.T, raw []byte, fromHost bool) {
		from := FromMCU
		if fromHost {
			from = FromHost
		}
		var fr Frame
		var verdict Verdict
		alloctest.Within(t, mostDecoding, func() { verdict = Decode(raw, from, &fr) })
		if verdict != Accepted {
			return
		}
		h := fr.Header
		var again []byte
		switch fr.Class {
		case ClassHelloRequest:
			again = AppendHelloRequest(nil, &h)
		case ClassRequest:
			again = AppendRequest(nil, &h, &fr.Request)
		case ClassParametersRequest:
			again = AppendParametersRequest(nil, &h, fr.Index)
		case ClassHello:
			again = AppendHello(nil, &h, &fr.Hello)
		case ClassSnapshot:
			again = AppendSnapshot(nil, &h, &fr.Snapshot)
		case ClassEvent:
			again = AppendEvent(nil, &h, &fr.Event)
		case ClassParameters:
			again = AppendParameters(nil, &h, &fr.Parameters)
		}
		if !bytes.Equal(again, append(bytes.Clone(raw), 0)) {
			t.Errorf("% X\nencodes again to\n% X", raw, again)
		}
	})
}
