package image_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"pressrig/firmware/image"
)

// The records are the example of Intel's Hexadecimal Object File Format
// Specification, revision A (1988), as commonly printed (from memory).
const published = ":10010000214601360121470136007EFE09D2190140\n" +
	":100110002146017E17C20001FF5F16002148011928\n" +
	":10012000194E79234623965778239EDA3F01B2CAA7\n" +
	":100130003F0156702B5E712B722B732146013421C7\n" +
	":00000001FF\n"

func TestReadHexReadsThePublishedExample(t *testing.T) {
	for _, text := range []string{published, strings.ReplaceAll(published, "\n", "\r\n"),
		strings.TrimSuffix(published, "\n"), strings.ToLower(published)} {
		s, err := image.ReadHex([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if len(s) != 1 || s[0].Address != 0x100 || len(s[0].Bytes) != 64 || s[0].Bytes[0] != 0x21 ||
			s[0].Bytes[63] != 0x21 {
			t.Fatalf("%d segments: %+v", len(s), s)
		}
		if back := string(image.WriteHex(s...)); back != published {
			t.Errorf("written again:\n%s", back)
		}
	}
}

func TestReadHexRefuses(t *testing.T) {
	const end = ":00000001FF\n"
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "no end record"},
		{"cut off", published[:strings.Index(published, ":00000001")], "no end record"},
		{"cut in a line", published[:100], "line 3: not hexadecimal"},
		{"a flipped digit", strings.Replace(published, "214601", "214602", 1), "line 1: checksum is 40; the bytes give 3F"},
		{"no colon", "10010000" + end, "line 1: a record begins with a colon"},
		{"an empty line", "\n" + end, "line 1: a record begins with a colon"},
		{"no digits", ":zz\n" + end, "line 1: not hexadecimal"},
		{"too short", ":0000\n" + end, "line 1: 2 bytes do not fit"},
		{"a wrong length", ":0200000000FE\n" + end, "line 1: 6 bytes do not fit"},
		{"a very long line", ":" + strings.Repeat("0", 1000) + "\n" + end, "line 1: 1000 digits"},
		{"after the end", end + end, "line 2: something follows the end record"},
		{"a start address", ":0400000500000000F7\n" + end, "line 1: record type 5"},
		{"an end with an address", ":00000101FE\n", "line 1: a record of type 1"},
		{"data without data", ":0000000000\n" + end, "line 1: a data record without data"},
		{"backwards", ":0100100000EF\n:0100000000FF\n" + end, "line 2: address 0 comes after 11"},
		{"twice", ":0100000000FF\n:0100000000FF\n" + end, "line 2: address 0 comes after 1"},
		{"behind the flash", ":020000040004F6\n:0100000000FF\n" + end, "line 2: address 40000; the flash ends at 40000"},
		{"past 64 KiB", ":02FFFF00000000\n" + end, "line 1: 2 bytes at FFFF run past"},
	} {
		_, err := image.ReadHex([]byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.name, err, c.want)
		}
	}
}

// Both kinds of extended address lead to the same place.
func TestReadHexExtendedAddresses(t *testing.T) {
	const data = ":0100000055AA\n:00000001FF\n"
	for _, extended := range []string{":020000021000EC\n", ":020000040001F9\n"} {
		s, err := image.ReadHex([]byte(extended + data))
		if err != nil || len(s) != 1 || s[0].Address != 0x10000 || s[0].Bytes[0] != 0x55 {
			t.Errorf("%q: %+v, %v", extended, s, err)
		}
	}
}

func TestHexGoesRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var want []image.Segment
		at := uint32(0)
		for range rapid.IntRange(1, 4).Draw(t, "n") {
			at += uint32(rapid.IntRange(1, 40_000).Draw(t, "gap"))
			b := rapid.SliceOfN(rapid.Byte(), 1, 100).Draw(t, "bytes")
			want = append(want, image.Segment{Address: at, Bytes: b})
			at += uint32(len(b))
		}
		have, err := image.ReadHex(image.WriteHex(want...))
		if d := cmp.Diff(want, have); err != nil || d != "" {
			t.Fatalf("%v\n%s", err, d)
		}
	})
}

func FuzzReadHex(f *testing.F) {
	f.Add([]byte(published))
	f.Add([]byte(":020000021000EC\n:0100000055AA\n:00000001FF\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := image.ReadHex(text)
		if err != nil {
			return
		}
		end := uint32(0)
		for i, one := range s {
			if len(one.Bytes) == 0 || i > 0 && one.Address <= end || one.End() > image.FlashBytes {
				t.Fatalf("segment %d: %d bytes at %X after %X", i, len(one.Bytes), one.Address, end)
			}
			end = one.End()
		}
		back, err := image.ReadHex(image.WriteHex(s...))
		if err != nil || len(back) != len(s) {
			t.Fatalf("written and read again: %d of %d segments, %v", len(back), len(s), err)
		}
		for i := range s {
			if back[i].Address != s[i].Address || !bytes.Equal(back[i].Bytes, s[i].Bytes) {
				t.Fatalf("segment %d differs", i)
			}
		}
	})
}
