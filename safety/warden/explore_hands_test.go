package warden

import "testing"

// SV-036, ISO 13851 type III, each pair of hands alone at production constants
// over every sequence of its two actuators: given only while both are held,
// only when the second came within 0.5 s of the first, and anew only after both
// were released.
func TestExploreHands(t *testing.T) {
	t.Parallel()
	c := testConfig()
	words := alphabet{{"", "left"}, {"", "other"}}
	for pair, other := range [NumHands]uint32{InTwoHandRight, InHoldClose, InHoldTurn} {
		type node struct {
			h        Hands
			released bool   // both, since they were last held together
			apart    uint16 // since the first of the two was pressed
			given    bool
		}
		s := &search[node]{
			name: "hands " + string('0'+rune(pair)), start: []node{{}}, say: words.say,
			key: func(n *node) uint64 {
				return uint64(n.h.Ms)<<40 | uint64(n.h.Ready)<<33 | uint64(n.h.Given)<<32 | uint64(n.apart)<<8 |
					uint64(one(n.released))<<1 | uint64(one(n.given))
			},
			letters: func(*node) []uint32 { return words.every() },
			next: func(n *node, letter uint32) string {
				s, in, out := quiet, quietInput, Output{}
				s.Hands[pair] = n.h
				left, right := letter&1 != 0, letter&2 != 0
				in.Bits |= one(left)*InTwoHandLeft | one(right)*other
				explored(&c, &s, &in, &out)
				n.h = s.Hands[pair]
				n.h.Ms = min(n.h.Ms, c.HandsMs+1) * uint16(n.h.Ready)
				switch {
				case !left && !right:
					n.released, n.apart, n.given = true, 0, false
				case left && right:
					n.given = n.given || n.released && n.apart <= 500
					n.released, n.apart = false, 0
				default:
					n.given, n.apart = false, min(n.apart+1, 501)*uint16(one(n.released))
				}
				if n.given != (n.h.Given != 0) {
					return "18: two hands given or refused wrongly"
				}
				return ""
			},
		}
		if f := s.explore(t); len(f.keys) < 500 {
			t.Errorf("only %d states of pair %d", len(f.keys), pair)
		}
	}
}
