package warden

import (
	"flag"
	"fmt"
	"math/bits"
	"strconv"
	"strings"
	"testing"
	"time"
	"unsafe"
)

// Exhaustive exploration: breadth first over everything that the warden's own
// functions can do, not over a model of them. Start reading here; then
// explore_part_test.go says how one machine is cut out of Step, and each
// explore_MACHINE_test.go says which inputs it is given and why they suffice.

var full = flag.Bool("full", false, "explore at production constants, some minutes; `make explore`")

// search is one exploration. N is a node: all that decides what can follow.
type search[N any] struct {
	name  string
	start []N
	key   func(*N) uint64
	// letters are the inputs tried in a node, by number.
	letters func(*N) []uint32
	// next takes one tick in place. A broken invariant comes back in words.
	next func(*N, uint32) (broken string)
	say  func(uint32) string
	// operator is the letter that a correct operator gives with all faults
	// gone; from every node it must lead to idle (invariant 17).
	operator func(*N) uint32
	idle     func(*N) bool
	// sample: in one node of so many every letter of all is tried, and none may
	// lead where the chosen letters do not.
	all    func(*N) []uint32
	sample uint64
	hint   int // expected nodes, so that memory is taken once
	depth  int // of the node that is being expanded

	scratch N // on the heap once, not once a transition
}

// found is what an exploration saw.
type found struct {
	keys        []uint64
	parent      []uint32
	via         []uint32
	after       []uint32 // node that the correct operator leads to
	table       []uint32 // open addressing: index + 1 of the key
	idle        []bool
	depths      []int // first node of each depth
	transitions uint64
	bytes       uint64
	longestWay  uint32 // most ticks that a correct operator needs to idle
	broken      string
	script      []string
}

const none uint32 = 0xFFFFFFFF

// mix is the finaliser of SplitMix64.
func mix(x uint64) uint64 {
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

func (f *found) slot(key uint64) uint64 {
	mask := uint64(len(f.table) - 1)
	at := mix(key) & mask
	for f.table[at] != 0 && f.keys[f.table[at]-1] != key {
		at = (at + 1) & mask
	}
	return at
}

// add gives the number of a key, and whether it is new.
func (f *found) add(key uint64, parent, via uint32) (uint32, bool) {
	at := f.slot(key)
	if f.table[at] != 0 {
		return f.table[at] - 1, false
	}
	f.keys = append(f.keys, key)
	f.parent = append(f.parent, parent)
	f.via = append(f.via, via)
	f.table[at] = uint32(len(f.keys))
	if 4*len(f.keys) > 3*len(f.table) {
		f.table = make([]uint32, 2*len(f.table))
		for i, k := range f.keys {
			f.table[f.slot(k)] = uint32(i + 1)
		}
	}
	return uint32(len(f.keys) - 1), true
}

// run explores until nothing is new or an invariant breaks; since every level
// is finished before the next, the first broken one has the shortest script.
func (s *search[N]) run() *found {
	size := 1 << bits.Len(uint(max(1<<10, s.hint*4/3)))
	f := &found{
		table: make([]uint32, size), keys: make([]uint64, 0, s.hint),
		parent: make([]uint32, 0, s.hint), via: make([]uint32, 0, s.hint),
	}
	if s.operator != nil {
		f.after, f.idle = make([]uint32, 0, s.hint), make([]bool, 0, s.hint)
	}
	var now, then []N
	for i := range s.start {
		if _, fresh := f.add(s.key(&s.start[i]), none, 0); fresh {
			now = append(now, s.start[i])
		}
	}
	widest, at := 0, uint32(0)
	for len(now) > 0 {
		s.depth = len(f.depths)
		f.depths = append(f.depths, int(at))
		then = then[:0]
		for i := range now {
			if !s.expand(f, &now[i], at, &then) {
				return f
			}
			at++
		}
		widest = max(widest, cap(now)+cap(then))
		now, then = then, now
	}
	var n N
	f.bytes = uint64(widest)*uint64(unsafe.Sizeof(n)) + uint64(cap(f.table))*4 +
		uint64(cap(f.keys))*8 + uint64(cap(f.parent)+cap(f.via)+cap(f.after))*4
	if s.operator != nil {
		s.deadEnds(f)
	}
	return f
}

// expand takes every letter from one node.
func (s *search[N]) expand(f *found, from *N, at uint32, then *[]N) bool {
	try := func(letter uint32) (uint32, bool) {
		s.scratch = *from
		n := &s.scratch
		broken := s.next(n, letter)
		f.transitions++
		if broken != "" {
			f.broken, f.script = broken, s.tell(f.path(at, letter))
			return 0, false
		}
		i, fresh := f.add(s.key(n), at, letter)
		if fresh {
			*then = append(*then, *n)
		}
		return i, true
	}
	if s.operator != nil {
		i, ok := try(s.operator(from))
		if !ok {
			return false
		}
		f.after = append(f.after, i)
		f.idle = append(f.idle, s.idle(from))
	}
	for _, letter := range s.letters(from) {
		if _, ok := try(letter); !ok {
			return false
		}
	}
	if s.sample != 0 && mix(f.keys[at])%s.sample == 0 {
		return s.checkLetters(f, from, at)
	}
	return true
}

// checkLetters: no letter at all leads where the chosen ones do not.
func (s *search[N]) checkLetters(f *found, from *N, at uint32) bool {
	reach := map[uint64]bool{}
	for _, letter := range s.letters(from) {
		n := *from
		s.next(&n, letter)
		reach[s.key(&n)] = true
	}
	if s.operator != nil {
		n := *from
		s.next(&n, s.operator(from))
		reach[s.key(&n)] = true
	}
	for _, letter := range s.all(from) {
		n := *from
		if broken := s.next(&n, letter); broken != "" || !reach[s.key(&n)] {
			f.broken = "a letter left out leads elsewhere " + broken
			f.script = s.tell(f.path(at, letter))
			return false
		}
	}
	return true
}

// deadEnds follows the correct operator from every node (invariant 17).
func (s *search[N]) deadEnds(f *found) {
	way := make([]uint32, len(f.keys)) // ticks to idle, plus 1
	for i := range f.idle {
		if f.idle[i] {
			way[i] = 1
		}
	}
	const onPath = none
	var path []uint32
	for i := range way {
		path = path[:0]
		at := uint32(i)
		for way[at] == 0 {
			way[at] = onPath
			path = append(path, at)
			at = f.after[at]
		}
		if way[at] == onPath {
			f.broken, f.script = "17: a correct operator never reaches idle", s.tell(f.way(uint32(i)))
			return
		}
		for j := len(path) - 1; j >= 0; j-- {
			way[path[j]] = way[at] + uint32(len(path)-j)
		}
	}
	for i := range way {
		f.longestWay = max(f.longestWay, way[i]-1)
	}
}

// way is the shortest sequence of letters that leads to node i.
func (f *found) way(i uint32) []uint32 {
	var letters []uint32
	for ; f.parent[i] != none; i = f.parent[i] {
		letters = append(letters, f.via[i])
	}
	for a, b := 0, len(letters)-1; a < b; a, b = a+1, b-1 {
		letters[a], letters[b] = letters[b], letters[a]
	}
	return letters
}

func (f *found) path(i, letter uint32) []uint32 { return append(f.way(i), letter) }

// tell writes letters as script lines: "3000 ticks: flame asked".
func (s *search[N]) tell(letters []uint32) []string {
	var lines []string
	for i := 0; i < len(letters); {
		j := i
		for j < len(letters) && letters[j] == letters[i] {
			j++
		}
		lines = append(lines, fmt.Sprintf("%d ticks: %s", j-i, s.say(letters[i])))
		i = j
	}
	return lines
}

// explore runs, reports and fails the test on a broken invariant.
func (s *search[N]) explore(t *testing.T) *found {
	t.Helper()
	began := time.Now()
	f := s.run()
	t.Logf("%-28s %10d states %12d transitions, depth %6d, %5.1f s, %5d MB, idle within %d ticks", s.name,
		len(f.keys), f.transitions, len(f.depths)-1, time.Since(began).Seconds(), f.bytes>>20, f.longestWay)
	if f.broken != "" {
		t.Fatalf("%s: %s; as a script:\n%s", s.name, f.broken, strings.Join(f.script, "\n"))
	}
	return f
}

// alphabet is the inputs of a machine as independent dimensions. A letter has
// one digit for each; digit 0 is nominal and has no word.
type alphabet []dimension

type dimension []string // the word of each value

func (a alphabet) count() uint32 {
	n := uint32(1)
	for _, d := range a {
		n *= uint32(len(d))
	}
	return n
}

// digits takes a letter apart.
func (a alphabet) digits(letter uint32) []uint8 {
	out := make([]uint8, len(a))
	a.decode(letter, out)
	return out
}

func (a alphabet) decode(letter uint32, out []uint8) {
	for i, d := range a {
		out[i] = uint8(letter % uint32(len(d)))
		letter /= uint32(len(d))
	}
}

func (a alphabet) letter(digits []uint8) uint32 {
	letter := uint32(0)
	for i := len(a) - 1; i >= 0; i-- {
		letter = letter*uint32(len(a[i])) + uint32(digits[i])
	}
	return letter
}

// choose lists the letters with any value in the core dimensions (a bit for
// each), at most so many of the other dimensions away from nominal, and all
// the rest nominal.
func (a alphabet) choose(core uint32, most int, others uint32) []uint32 {
	var out []uint32
	var add func(i int, letter, place uint32, left int)
	add = func(i int, letter, place uint32, left int) {
		if i == len(a) {
			out = append(out, letter)
			return
		}
		size := uint32(len(a[i]))
		for v := range size {
			switch {
			case v == 0 || core&(1<<i) != 0:
				add(i+1, letter+v*place, place*size, left)
			case others&(1<<i) != 0 && left > 0:
				add(i+1, letter+v*place, place*size, left-1)
			}
		}
	}
	add(0, 0, 1, most)
	return out
}

// some lists letters drawn evenly over all.
func (a alphabet) some(count uint64) []uint32 {
	var out []uint32
	for i := range count {
		out = append(out, uint32(mix(i)%uint64(a.count())))
	}
	return out
}

// every lists all letters.
func (a alphabet) every() []uint32 { return a.choose(none, 0, 0) }

func (a alphabet) say(letter uint32) string {
	var words []string
	for i, v := range a.digits(letter) {
		if v != 0 {
			words = append(words, a[i][v])
		}
	}
	if len(words) == 0 {
		return "nominal"
	}
	return strings.Join(words, ", ")
}

// read is the inverse of say.
func (a alphabet) read(line string) (uint32, error) {
	digits := make([]uint8, len(a))
	for _, word := range strings.Split(line, ", ") {
		known := word == "nominal"
		for i, d := range a {
			for v, w := range d {
				if w == word {
					digits[i], known = uint8(v), true
				}
			}
		}
		if !known {
			return 0, fmt.Errorf("%q is no word of this machine", word)
		}
	}
	return a.letter(digits), nil
}

// readScript turns script lines into letters again.
func readScript(text string, read func(string) (uint32, error)) ([]uint32, error) {
	var letters []uint32
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		count, what, ok := strings.Cut(line, " ticks: ")
		ticks, err := strconv.Atoi(count)
		if !ok || err != nil {
			return nil, fmt.Errorf("line %d: %q; want \"3 ticks: flame, asked\"", i+1, line)
		}
		letter, err := read(strings.TrimSpace(what))
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", i+1, err)
		}
		for range ticks {
			letters = append(letters, letter)
		}
	}
	return letters, nil
}
