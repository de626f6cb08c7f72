package warden

import (
	"fmt"
	"testing"
)

// The latch, over every single cause and every pair of the warden's rows:
// which of the two are present, RESET pressed or not, the host's reset or not.
// Pairs suffice: reactions combine by a maximum in each column, which is
// associative, commutative and idempotent over every tuple of reactions
// (TestExploreStrongest), so a set reacts as its strongest pair a column; and
// the first cause of a set is that of the pair of it and any other.
type latchNode struct {
	s       State
	pressed bool // RESET in the last tick
	tripped uint64
	first   uint8
}

var latchWords = alphabet{
	{"", "first cause present"},
	{"", "second cause present"},
	{"", "RESET"},
	{"", "host resets"},
}

// rows of the warden: every number with a priority.
func rows() (all []uint8) {
	for cause := range NumCauses {
		if Matrix[cause].Priority != 0 {
			all = append(all, cause)
		}
	}
	return all
}

func (n *latchNode) key() uint64 {
	s := &n.s
	small := uint64(s.First) | uint64(s.ResetSeen)<<8 | uint64(s.Lock)<<16 | uint64(s.Gas)<<24 |
		uint64(one(n.pressed))<<32 | uint64(n.first)<<40
	return mix(mix(mix(mix(s.Trips)+s.Present)+n.tripped) + small)
}

// watch says again what a latch shall do, from the matrix and the inputs.
func (n *latchNode) watch(present uint64, reset, host bool) string {
	s := &n.s
	began := n.tripped == 0
	var fresh []uint8
	for _, cause := range rows() {
		if present&(1<<cause) != 0 && Matrix[cause].Lock != LockNone && n.tripped&(1<<cause) == 0 {
			fresh = append(fresh, cause)
			n.tripped |= 1 << cause
		}
	}
	if n.first == CauseNone && began {
		for _, cause := range fresh { // rows come in order of number
			if n.first == CauseNone || Matrix[cause].Priority < Matrix[n.first].Priority {
				n.first = cause
			}
		}
	}
	lockout := s.Lock == LockLockout
	cleared := n.tripped != 0 && s.Trips == 0
	edge := reset && !n.pressed
	n.pressed = reset
	locked := false
	for _, cause := range rows() {
		locked = locked || n.tripped&(1<<cause) != 0 && Matrix[cause].Lock == LockLockout
	}
	switch {
	case cleared && present&n.tripped != 0:
		return "5: reset with a cause still present"
	case cleared && locked && !edge:
		return "5: lockout reset without an edge of the local RESET"
	case cleared && !edge && !host:
		return "5: reset by nobody"
	case !cleared && n.tripped != 0 && edge && present&n.tripped == 0:
		return "17: the local RESET does not reset"
	case cleared:
		n.tripped, n.first = 0, CauseNone
	}
	gas, spindle, above, contact, lock := uint8(0), uint8(0), uint8(0), uint8(0), uint8(0)
	for _, cause := range rows() {
		if (n.tripped|present)&(1<<cause) != 0 {
			row := Matrix[cause]
			gas, spindle = max(gas, row.Gas), max(spindle, row.Spindle)
			above, contact, lock = max(above, row.Above), max(contact, row.Contact), max(lock, row.Lock)
		}
	}
	switch {
	case s.Trips != n.tripped:
		return "15: what has tripped is not what was present"
	case s.First != n.first:
		return "15: another first cause than the highest priority of the first tick, then the lowest number"
	case s.Gas != gas || s.Spin != spindle || s.Above != above || s.Touch != contact || s.Lock != lock:
		return "12: not the strongest reaction of each column"
	case lock != LockNone && (s.Started != 0 || s.Armed != 0):
		return "7: a trip leaves START in force"
	case lock == LockNone && lockout && s.Started == 0 && !edge:
		return "5: lockout ended"
	}
	return ""
}

func latchSearch(a, b uint8) *search[latchNode] {
	first := latchNode{s: quiet}
	return &search[latchNode]{
		name: fmt.Sprintf("latch %d %d", a, b), start: []latchNode{first}, say: latchWords.say,
		key:     (*latchNode).key,
		letters: func(*latchNode) []uint32 { return latchWords.every() },
		next: func(n *latchNode, letter uint32) string {
			d := latchWords.digits(letter)
			in := quietInput
			s := &n.s
			s.Present, s.Started, s.Armed, s.ErrorSum = 0, 1, 0, 7
			s.Present |= uint64(d[0])<<a | uint64(d[1])<<b
			if d[2] != 0 {
				in.Bits |= InReset
			}
			if d[3] != 0 {
				in.Fresh, in.Request.Flags = 1, ReqReset
			}
			present := s.Present
			latch(s, &in)
			return n.watch(present, d[2] != 0, d[3] != 0)
		},
		operator: func(n *latchNode) uint32 { return uint32(one(!n.pressed)) << 2 },
		idle:     func(n *latchNode) bool { return n.s.Trips == 0 },
	}
}

func TestExploreLatch(t *testing.T) {
	t.Parallel()
	pairs, states, transitions := 0, 0, uint64(0)
	for i, a := range rows() {
		for _, b := range rows()[i:] {
			f := latchSearch(a, b).run()
			if f.broken != "" {
				t.Fatalf("causes %d and %d: %s; as a script:\n%v", a, b, f.broken, f.script)
			}
			pairs, states, transitions = pairs+1, states+len(f.keys), transitions+f.transitions
		}
	}
	t.Logf("latch: %d singles and pairs, %d states, %d transitions", pairs, states, transitions)
	const all = 42 // rows of the warden
	if pairs != all*(all+1)/2 {
		t.Errorf("%d singles and pairs of rows; want %d and %d", pairs, all, all*(all-1)/2)
	}
}

// Invariant 12: over every tuple of reactions the combination is associative,
// commutative and idempotent, and no column falls.
func TestExploreStrongest(t *testing.T) {
	t.Parallel()
	var all []Reaction
	for n := range uint32(3 * 4 * 7 * 7 * 4) {
		d := alphabet{make(dimension, 3), make(dimension, 4), make(dimension, 7), make(dimension, 7), make(dimension, 4)}.digits(n)
		all = append(all, Reaction{d[0], d[1], d[2], d[3], d[4]})
	}
	columns := func(r Reaction) [5]uint8 { return [5]uint8{r.Gas, r.Spindle, r.Above, r.Contact, r.Lock} }
	for _, a := range all {
		for _, b := range all {
			got := Strongest(a, b)
			if got != Strongest(b, a) || Strongest(got, b) != got || Strongest(a, a) != a {
				t.Fatalf("%v and %v: not commutative or not idempotent", a, b)
			}
			x, y, z := columns(a), columns(b), columns(got)
			for i := range z {
				if z[i] != x[i] && z[i] != y[i] || z[i] < x[i] || z[i] < y[i] {
					t.Fatalf("%v and %v: column %d is %d", a, b, i, z[i])
				}
			}
		}
	}
	// Each column is a maximum of two numbers, and each depends on its own
	// column alone; so associativity over one column's values covers all.
	for i := range 5 {
		for n := range uint32(7 * 7 * 7) {
			var r [3]Reaction
			for j, v := range []uint8{uint8(n % 7), uint8(n / 7 % 7), uint8(n / 49)} {
				c := [5]uint8{}
				c[i] = v
				r[j] = Reaction{c[0], c[1], c[2], c[3], c[4]}
			}
			if Strongest(Strongest(r[0], r[1]), r[2]) != Strongest(r[0], Strongest(r[1], r[2])) {
				t.Fatalf("column %d: not associative for %v", i, r)
			}
		}
	}
}
