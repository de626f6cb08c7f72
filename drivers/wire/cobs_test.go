package wire

import (
	"bytes"
	"testing"

	"pgregory.net/rapid"
)

func span(from, to int) []byte {
	var b []byte
	for v := from; v <= to; v++ {
		b = append(b, byte(v))
	}
	return b
}

func join(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

// The vectors of safety.md 5.4: Cheshire and Baker's figures and public tests
// (S41), the rest computed from the rule (S40).
func TestCOBSVectors(t *testing.T) {
	tests := []struct {
		id       string
		in, want []byte
	}{
		{"empty, computed", nil, []byte{1}},
		{"SV-015 one zero, S41", []byte{0}, []byte{1, 1}},
		{"SV-015 two zeros, S41", []byte{0, 0}, []byte{1, 1, 1}},
		{"00 11 00, S41", []byte{0, 0x11, 0}, []byte{1, 2, 0x11, 1}},
		{"11 22 00 33, computed", []byte{0x11, 0x22, 0, 0x33}, []byte{3, 0x11, 0x22, 2, 0x33}},
		{"11 22 33 44, computed", []byte{0x11, 0x22, 0x33, 0x44}, []byte{5, 0x11, 0x22, 0x33, 0x44}},
		{"11 00 00 00, computed", []byte{0x11, 0, 0, 0}, []byte{2, 0x11, 1, 1, 1}},
		{"01..FE, computed", span(1, 254), join([]byte{0xFF}, span(1, 254))},
		{"00..FE, computed", span(0, 254), join([]byte{1, 0xFF}, span(1, 254))},
		{"01..FF, computed", span(1, 255), join([]byte{0xFF}, span(1, 254), []byte{2, 0xFF})},
		{"02..FF 00, computed", join(span(2, 255), []byte{0}),
			join([]byte{0xFF}, span(2, 255), []byte{1, 1})},
		{"03..FF 00 01, computed", join(span(3, 255), []byte{0, 1}),
			join([]byte{0xFE}, span(3, 255), []byte{2, 1})},
		{"SV-013 paper, figure 3, S41",
			[]byte{0x45, 0, 0, 0x2C, 0x4C, 0x79, 0, 0, 0x40, 6, 0x4F, 0x37},
			[]byte{2, 0x45, 1, 4, 0x2C, 0x4C, 0x79, 1, 5, 0x40, 6, 0x4F, 0x37}},
	}
	for _, tt := range tests {
		got := EncodeCOBS(nil, tt.in)
		if !bytes.Equal(got, tt.want) {
			t.Errorf("%s: got % X, want % X", tt.id, got, tt.want)
		}
		back := make([]byte, len(tt.in))
		if n, ok := DecodeCOBS(back, tt.want); !ok || !bytes.Equal(back[:n], tt.in) {
			t.Errorf("%s: decoded % X, %v", tt.id, back[:n], ok)
		}
	}
}

// SV-014, the paper's figure 2 (S41): 679 bytes 01 and a zero.
func TestCOBSLongFigure(t *testing.T) {
	got := EncodeCOBS(nil, append(bytes.Repeat([]byte{1}, 679), 0))
	if len(got) != 683 {
		t.Fatalf("%d bytes, want 683", len(got))
	}
	for i, want := range map[int]byte{0: 0xFF, 255: 0xFF, 510: 0xAC} {
		if got[i] != want {
			t.Errorf("code byte at %d is %X, want %X", i, got[i], want)
		}
	}
}

func TestCOBSRefuses(t *testing.T) {
	tests := []struct {
		why  string
		src  []byte
		room int
	}{
		{"empty frame", nil, 9},
		{"zero as code byte", []byte{0}, 9},
		{"zero inside a block", []byte{3, 1, 0}, 9},
		{"zero code byte later", []byte{2, 1, 0}, 9},
		{"code past the end", []byte{3, 1}, 9},
		{"full block past the end", append([]byte{0xFF}, span(1, 253)...), 300},
		{"block longer than the room", []byte{4, 1, 2, 3}, 2},
		{"no room for the zero between blocks", []byte{2, 1, 2, 2}, 1},
		{"no room for the second block", []byte{2, 1, 2, 2}, 2},
		{"nothing but zeros, too many", []byte{1, 1, 1}, 1},
	}
	for _, tt := range tests {
		if n, ok := DecodeCOBS(make([]byte, tt.room), tt.src); ok {
			t.Errorf("%s: taken as %d bytes", tt.why, n)
		}
	}
}

// bytesWithZeros draws bytes a quarter of which are zero, as real frames have.
func bytesWithZeros(most int) *rapid.Generator[[]byte] {
	return rapid.SliceOfN(rapid.OneOf(rapid.Byte(), rapid.Byte(), rapid.Byte(),
		rapid.Just(byte(0))), 0, most)
}

func TestCOBSRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := bytesWithZeros(600).Draw(t, "in")
		code := EncodeCOBS(nil, in)
		if bytes.IndexByte(code, 0) >= 0 {
			t.Fatalf("a zero in % X", code)
		}
		if most := len(in) + 1 + len(in)/254; len(code) > most {
			t.Fatalf("%d bytes became %d, at most %d", len(in), len(code), most)
		}
		n, ok := DecodeCOBS(code, code) // in place
		if !ok || !bytes.Equal(code[:n], in) {
			t.Fatalf("got % X, %v", code[:n], ok)
		}
	})
}

// SV-016: up to 253 bytes the overhead is one byte (S40), and there the
// in-place encoder equals the general one.
func TestStuffEqualsCOBS(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := bytesWithZeros(MaxFrame).Draw(t, "in")
		frame := append([]byte{0}, in...)
		stuff(frame)
		if want := EncodeCOBS(nil, in); !bytes.Equal(frame, want) {
			t.Fatalf("in place % X, general % X", frame, want)
		}
	})
	full := append([]byte{0}, bytes.Repeat([]byte{7}, MaxFrame)...)
	stuff(full)
	if want := EncodeCOBS(nil, bytes.Repeat([]byte{7}, MaxFrame)); !bytes.Equal(full, want) {
		t.Errorf("longest frame without a zero: in place % X, general % X", full, want)
	}
}

func FuzzDecodeCOBS(f *testing.F) {
	f.Add([]byte{1}, 3)
	f.Add([]byte{3, 1, 0}, 8)
	f.Add(append([]byte{0xFF}, span(1, 254)...), 254)
	f.Fuzz(func(t *testing.T, src []byte, room int) {
		if room < 0 || room > 1024 {
			room = MaxFrame
		}
		dst := make([]byte, room)
		n, ok := DecodeCOBS(dst, src)
		if !ok {
			return
		}
		// One encoder adds a last 01 after exactly 254 bytes; both read the same.
		again := EncodeCOBS(nil, dst[:n])
		if !bytes.Equal(again, src) && !bytes.Equal(append(again, 1), src) {
			t.Errorf("% X decodes to % X, which encodes to % X", src, dst[:n], again)
		}
	})
}
