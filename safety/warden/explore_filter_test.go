package warden

import "testing"

// The filter, alone: every input of it, at its production constants, under every
// order of raw levels; then all of them together, to see that none hears another.

type filterNode struct {
	f     Filter
	net   int // raw milliseconds that differ, less those that agree, since it last agreed with net 0
	last  int // unbroken milliseconds that differ
	input int
}

func filterSearch(input int) *search[filterNode] {
	words := alphabet{{"", "raw level changed"}}
	want := FilteredInputs[input]
	return &search[filterNode]{
		name: "filter", start: []filterNode{{input: input}}, say: words.say,
		key: func(n *filterNode) uint64 {
			return uint64(n.f.Bits)<<32 | uint64(n.f.Primed)<<24 | uint64(n.f.Ms[input])<<16 | uint64(n.net)<<8 | uint64(n.last)
		},
		letters: func(*filterNode) []uint32 { return words.every() },
		next: func(n *filterNode, letter uint32) string {
			before, in := n.f, Input{Bits: want.Bit * letter}
			StepFilter(&n.f, &in)
			differs := (in.Bits^before.Bits)&want.Bit != 0
			raw := want.Bit * letter
			switch {
			case in.Bits != n.f.Bits:
				return "0: what is passed on is not what is remembered"
			case before.Primed == 0:
				if in.Bits != raw {
					return "0: the first levels are not taken as they are"
				}
				return ""
			case raw == before.Bits:
				n.net, n.last = max(0, n.net-1), 0
			default:
				n.net, n.last = n.net+1, n.last+1
			}
			switch {
			case differs && n.net < int(want.Ms):
				return "0: passes before its time"
			case !differs && n.last >= int(want.Ms):
				return "0: does not pass a level that stays"
			case !differs && n.net >= int(want.Ms):
				return "0: does not pass a level that is there most of the time"
			}
			if differs {
				n.net, n.last = 0, 0
			}
			return ""
		},
		operator: func(*filterNode) uint32 { return 0 },
		idle:     func(n *filterNode) bool { return n.f.Bits == 0 && n.f.Ms[input] == 0 },
	}
}

func TestExploreFilter(t *testing.T) {
	t.Parallel()
	states := 0
	for i := range int(NumFilter) {
		f := filterSearch(i).run()
		if f.broken != "" {
			t.Fatalf("input %#x: %s; as a script:\n%v", FilteredInputs[i].Bit, f.broken, f.script)
		}
		if f.longestWay != uint32(FilteredInputs[i].Ms)+1 && f.longestWay != uint32(FilteredInputs[i].Ms) {
			t.Errorf("input %#x: rest after %d ms; its time is %d", FilteredInputs[i].Bit, f.longestWay, FilteredInputs[i].Ms)
		}
		states += len(f.keys)
	}
	t.Logf("filter: %d states", states)
}

// Two inputs that change in any order do as each does alone; what is not filtered
// passes in its tick.
func TestFilterHearsEachInputAlone(t *testing.T) {
	for seed := range uint64(200) {
		var all Filter
		alone := [NumFilter]Filter{}
		x := seed*0x9E3779B97F4A7C15 + 1
		raw := uint32(0)
		for range 400 {
			x ^= x << 13
			x ^= x >> 7
			x ^= x << 17
			if x%4 == 0 {
				raw ^= 1 << (x >> 32 % 29)
			}
			in := Input{Bits: raw}
			StepFilter(&all, &in)
			var filtered uint32
			for i, want := range FilteredInputs {
				filtered |= want.Bit
				one := Input{Bits: raw & want.Bit}
				StepFilter(&alone[i], &one)
				if one.Bits&want.Bit != in.Bits&want.Bit {
					t.Fatalf("seed %d: input %#x hears another", seed, want.Bit)
				}
			}
			if (in.Bits^raw)&^filtered != 0 {
				t.Fatalf("seed %d: %#x held back though it is not filtered", seed, (in.Bits^raw)&^filtered)
			}
		}
	}
}
