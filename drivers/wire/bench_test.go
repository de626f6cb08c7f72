package wire

import (
	"hash/crc32"
	"testing"
	"time"
)

// ratio reports how many times longer than the CRC of the same bytes, the
// floor that no codec can go below, one operation took.
func ratio(b *testing.B, bytes int) {
	data := make([]byte, bytes)
	const rounds = 10000
	start := time.Now()
	var crc uint32
	for range rounds {
		crc = crc32.Update(crc, castagnoli, data)
	}
	floor := time.Since(start) / rounds
	b.ReportMetric(float64(b.Elapsed())/float64(b.N)/max(float64(floor), 1), "x_crc32")
	if crc == 1 {
		b.Log("never") // keeps the loop
	}
}

func BenchmarkAppendSnapshot(b *testing.B) {
	s, h := sampleSnapshot(), header(1)
	buf := make([]byte, 0, 256)
	b.ReportAllocs()
	for b.Loop() {
		buf = AppendSnapshot(buf[:0], h, &s)
	}
	ratio(b, len(buf))
}

func BenchmarkDecodeSnapshot(b *testing.B) {
	wire := snapshot(1)
	f := new(Frame)
	b.ReportAllocs()
	for b.Loop() {
		if Decode(wire[:len(wire)-1], FromMCU, f) != Accepted {
			b.Fatal("refused")
		}
	}
	ratio(b, len(wire))
}

func BenchmarkAppendRequest(b *testing.B) {
	r, h := sampleRequest(), header(1)
	buf := make([]byte, 0, 256)
	b.ReportAllocs()
	for b.Loop() {
		buf = AppendRequest(buf[:0], h, &r)
	}
	ratio(b, len(buf))
}

func BenchmarkDecodeRequest(b *testing.B) {
	wire := request(1, 0)
	f := new(Frame)
	b.ReportAllocs()
	for b.Loop() {
		if Decode(wire[:len(wire)-1], FromHost, f) != Accepted {
			b.Fatal("refused")
		}
	}
	ratio(b, len(wire))
}

func BenchmarkSplitAndTakeSnapshot(b *testing.B) {
	wire := snapshot(1)
	f := new(Frame)
	r := NewHostReceiver(testDevice, testHost)
	var s Splitter
	s.Feed(0)
	b.ReportAllocs()
	for b.Loop() {
		for _, v := range wire {
			if raw, ok := s.Feed(v); ok {
				r.Take(raw, 0, f)
			}
		}
	}
	ratio(b, len(wire))
}
