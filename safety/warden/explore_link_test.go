package warden

import (
	"math/rand/v2"
	"testing"
)

// The link's inputs: what a frame asks, with the number of the arming named by
// what the warden knows of it, so that numbers themselves need no exploring.
const (
	lFrame = iota
	lStart
	lSession
	lErrors
	lLock
	lEstop
	lSetUp
	lTaken
)

var linkWords = alphabet{
	{"", "frame arms same", "frame arms new", "frame arms used", "frame arms 0", "frame cycles same",
		"frame cycles new", "frame asks nothing"},
	{"", "START"},
	{"", "new session"},
	{"", "many errors"},
	{"", "tripping", "locked", "cause before", "just reset"},
	{"", "emergency stop"},
	{"", "set-up"},
	{"", "door open", "hands"},
}

func linkPart(c Config) *part {
	p := &part{name: "link", config: c, words: linkWords, keep: keepLink, dress: dressLink,
		canon: canonLink, pack: packLink, letterOf: linkLetter, scramble: scrambleForLink}
	return p.ready()
}

func keepLink(from, to *State) {
	to.Armed, to.Started, to.StartSeen, to.Wait = from.Armed, from.Started, from.StartSeen, from.Wait
	to.ArmID, to.UsedArmID, to.ArmMs, to.LinkMs = from.ArmID, from.UsedArmID, from.ArmMs, from.LinkMs
}

// newID is a number that is neither the arming in force nor the last used.
func newID(s *State) uint16 {
	for id := uint16(1); ; id++ {
		if id != s.ArmID && id != s.UsedArmID {
			return id
		}
	}
}

func dressLink(_ *Config, digits []uint8, s *State, in *Input) {
	s.Press = PressStay
	r := &in.Request
	if digits[lFrame] != 0 {
		in.Fresh = 1
		r.Lease = 15
	}
	switch digits[lFrame] {
	case 1:
		r.Flags, r.ArmID = ReqArm, s.ArmID
	case 2:
		r.Flags, r.ArmID = ReqArm, newID(s)
	case 3:
		r.Flags, r.ArmID = ReqArm, s.UsedArmID
	case 4:
		r.Flags, r.ArmID = ReqArm, 0
	case 5:
		r.Flags, r.ArmID = ReqCycle, s.ArmID
	case 6:
		r.Flags, r.ArmID = ReqCycle, newID(s)
	}
	if digits[lStart] != 0 {
		in.Bits |= InStart
	}
	in.NewSession = digits[lSession]
	if digits[lErrors] != 0 {
		s.ErrorSum = errorTrip + 1
	}
	switch digits[lLock] {
	case 1:
		s.Trips = 1 << CausePressState
	case 2:
		s.Trips, s.Lock = 1<<CausePressState, LockHold
	case 3:
		s.Present = 1 << CauseButton
	case 4:
		s.Lock = LockHold
	}
	if digits[lEstop] != 0 {
		in.Bits &^= InEstopOK
	}
	if digits[lSetUp] != 0 {
		in.Bits |= InSetUp
	}
	switch digits[lTaken] {
	case 1:
		in.Bits &^= InDoorClosed
	case 2:
		r.Flags |= ReqHands
	}
}

// canonLink names the arming in force 1 and the last used 0 where it cannot
// matter (while armed: leaving armed overwrites it), 1 where it is the same
// and 2 where it is another.
func canonLink(c *Config, s *State) {
	s.LinkMs = min(s.LinkMs, c.LeaseMs)
	s.ArmMs = min(s.ArmMs, c.ArmMs)
	if s.Armed == 0 && s.Wait == 0 {
		s.ArmMs, s.StartSeen = 0, 0
	}
	switch {
	case s.Armed != 0 || s.UsedArmID == 0:
		s.UsedArmID = 0
	case s.UsedArmID == s.ArmID:
		s.UsedArmID = 1
	default:
		s.UsedArmID = 2
	}
	s.ArmID = min(s.ArmID, 1)
}

func packLink(s *State) uint64 {
	key := uint64(s.Wait)<<3 | uint64(s.Armed)<<2 | uint64(s.Started)<<1 | uint64(s.StartSeen)
	key = key<<4 | uint64(s.ArmID)<<2 | uint64(s.UsedArmID)
	return key<<32 | uint64(s.ArmMs)<<10 | uint64(s.LinkMs)
}

// linkNode adds an outsider's clocks: since armed, since the last frame, and
// whether START was seen released.
type linkNode struct {
	s        State
	armedMs  uint32
	silentMs uint16
	released bool // with the door closed
	waits    bool
}

func (n *linkNode) key() uint64 {
	ghosts := uint64(n.armedMs)<<20 ^ uint64(n.silentMs)<<2 ^ uint64(one(n.waits))<<1 ^ uint64(one(n.released))
	return packLink(&n.s)*0x9E3779B97F4A7C15 ^ mix(ghosts)
}

func (n *linkNode) watch(limits *Config, before *State, in *Input, out *Output) string {
	s := &n.s
	r := &in.Request
	n.silentMs = min(n.silentMs+1, limits.LeaseMs)
	if in.NewSession != 0 {
		n.silentMs = limits.LeaseMs
	}
	if in.Fresh != 0 {
		n.silentMs = 0
	}
	n.armedMs++
	rearmed := s.Armed != 0 && (before.Armed == 0 || s.ArmID != before.ArmID)
	last := before.UsedArmID
	if before.Armed != 0 {
		last = before.ArmID
	}
	started := s.Started != 0 && before.Started == 0
	dead := n.silentMs >= limits.LeaseMs
	held := in.Fresh == 0 || r.Flags&(ReqArm|ReqCycle) != 0 && r.ArmID == s.ArmID
	door, down := in.Bits&InDoorClosed != 0, in.Bits&InStart != 0
	taken := !door || r.Flags&ReqHands != 0
	given := n.waits && down && n.released && n.armedMs < limits.ArmMs
	n.waits = s.Started != 0 && (taken || n.waits && !given)
	lamp := s.Armed != 0 || n.waits && !taken && n.armedMs < limits.ArmMs
	switch {
	case rearmed && (in.Fresh == 0 || r.Flags&ReqArm == 0 || r.ArmID == 0 || r.ArmID != s.ArmID):
		return "7: armed without a frame that arms"
	case rearmed && r.ArmID == last:
		return "7: an arming serves twice"
	case rearmed && (before.Lock != LockNone || before.Present != 0 || before.ErrorSum > errorTrip):
		return "7: armed with a cause present"
	case in.Bits&InSetUp != 0 && (s.Armed != 0 || s.Started != 0):
		return "18: armed or started in set-up"
	case s.Armed != 0 && s.Started != 0:
		return "7: armed and started"
	case started && (before.Armed == 0 && in.Fresh == 0 || in.Bits&InStart == 0):
		return "7: started without START while armed"
	case started && !door:
		return "7: START counts at the open door"
	case (s.Wait != 0) != n.waits:
		return "7: motion and heat are back without START, or not back with it"
	case started && !n.released:
		return "7: a held START starts"
	case started && n.armedMs >= limits.ArmMs:
		return "7: START counts after ArmMs"
	case s.Armed != 0 && !rearmed && n.armedMs >= limits.ArmMs:
		return "7: armed for longer than ArmMs"
	case (s.Armed != 0 || s.Started != 0) && dead:
		return "8: armed or started with the link dead (SV-044)"
	case s.Started != 0 && !held:
		return "7: the cycle goes on without the host"
	case s.Armed != 0 && in.Fresh != 0 && (r.Flags&ReqArm == 0 || r.ArmID != s.ArmID):
		return "7: armed though the host no longer arms"
	case (s.Armed != 0 || s.Started != 0) && s.Lock != LockNone:
		return "7: a trip leaves START or arming in force"
	case lamp != (out.Bits&OutArmedLamp != 0):
		return "7: the armed lamp lies"
	case before.Armed != 0 && s.Armed == 0 && s.UsedArmID != s.ArmID:
		return "7: an arming that ended may be used again"
	}
	if s.Armed == 0 && !n.waits || n.waits && taken {
		n.armedMs, n.released = 0, false
		return ""
	}
	if rearmed {
		n.armedMs, n.released = 0, false
	}
	n.released = door && (n.released || !down)
	n.armedMs = min(n.armedMs, limits.ArmMs)
	return ""
}

func linkSearch(p *part, limits Config) *search[linkNode] {
	first := linkNode{s: quiet, silentMs: limits.LeaseMs}
	first.s.LinkMs = limits.LeaseMs
	word := func(frame, start, session, lock uint8) uint32 {
		return linkWords.letter([]uint8{frame, start, session, 0, lock, 0, 0, 0})
	}
	doorOpen := func(frame, start uint8) uint32 {
		return linkWords.letter([]uint8{frame, start, 0, 0, 0, 0, 0, 1})
	}
	hands := func(frame, start uint8) uint32 {
		return linkWords.letter([]uint8{frame, start, 0, 0, 0, 0, 0, 2})
	}
	// Armed, only what ends or keeps the arming matters; sampled nodes try all.
	armed := []uint32{word(0, 0, 0, 0), word(0, 1, 0, 0), word(1, 0, 0, 0), word(1, 1, 0, 0), word(2, 0, 0, 0),
		word(2, 1, 0, 0), word(7, 0, 0, 0), word(0, 0, 1, 0), word(0, 0, 0, 1), word(7, 0, 0, 1),
		doorOpen(0, 0), doorOpen(0, 1), doorOpen(1, 0), doorOpen(1, 1),
		hands(0, 1), hands(1, 1)}
	waiting := []uint32{word(0, 0, 0, 0), word(0, 1, 0, 0), word(5, 0, 0, 0), word(5, 1, 0, 0), word(6, 0, 0, 0),
		word(7, 0, 0, 0), word(0, 0, 1, 0), word(0, 0, 0, 1), doorOpen(0, 0), doorOpen(5, 0), hands(5, 0),
		word(1, 0, 0, 0), word(2, 0, 0, 0), word(1, 0, 1, 0), word(2, 0, 1, 0), word(2, 1, 1, 0), word(5, 0, 1, 0)}
	every := linkWords.every()
	s := &search[linkNode]{
		name: "link", start: []linkNode{first}, say: p.words.say, key: (*linkNode).key,
		letters: func(n *linkNode) []uint32 {
			switch {
			case n.s.Armed != 0:
				return armed
			case n.s.Wait != 0:
				return waiting
			}
			return every
		},
		next: func(n *linkNode, letter uint32) string {
			before := n.s
			before.ErrorSum, before.Lock, before.Present = 0, 0, 0
			p.dressed(&before, letter)
			p.step(&n.s, letter)
			broken := n.watch(&limits, &before, &p.in, &p.out)
			canonLink(&p.config, &n.s)
			return broken
		},
		all: func(*linkNode) []uint32 { return every }, sample: 1 << 12,
		idle: func(n *linkNode) bool { return goes(&n.s) },
	}
	// From everywhere a correct host and operator come to a start.
	s.operator = func(n *linkNode) uint32 {
		switch {
		case n.s.Wait != 0 && n.s.ArmMs >= limits.ArmMs: // too late: open and close the door
			return doorOpen(5, 0)
		case n.s.Wait != 0 && n.s.StartSeen == 0:
			return word(5, 0, 0, 0)
		case n.s.Wait != 0:
			return word(5, 1, 0, 0)
		case n.s.Armed == 0:
			return word(2, 0, 0, 0)
		case n.s.StartSeen == 0:
			return word(1, 0, 0, 0)
		}
		return word(1, 1, 0, 0)
	}
	return s
}

func linkLetter(c *Config, before, after *State, in *Input) []uint8 {
	d := make([]uint8, len(linkWords))
	r := &in.Request
	if in.Fresh != 0 {
		arms, cycles := r.Flags&ReqArm != 0, r.Flags&ReqCycle != 0
		switch {
		case arms && r.ArmID == 0:
			d[lFrame] = 4
		case arms && r.ArmID == before.ArmID:
			d[lFrame] = 1
		case arms && r.ArmID == before.UsedArmID && before.Armed == 0:
			d[lFrame] = 3
		case arms:
			d[lFrame] = 2
		case cycles && r.ArmID == before.ArmID:
			d[lFrame] = 5
		case cycles:
			d[lFrame] = 6
		default:
			d[lFrame] = 7
		}
	}
	d[lStart] = uint8(one(has(in, InStart)))
	d[lSession] = in.NewSession
	count := *before
	countErrors(&count, in)
	d[lErrors] = uint8(one(count.ErrorSum >= errorTrip))
	locks := after.Lock != LockNone
	switch {
	case locks && before.Lock == LockNone:
		d[lLock] = 1
	case locks:
		d[lLock] = 2
	case before.Lock != LockNone:
		d[lLock] = 4
	case before.Present != 0:
		d[lLock] = 3
	}
	d[lEstop] = uint8(one(!has(in, InEstopOK)))
	d[lSetUp] = uint8(one(setUp(c, in)))
	switch {
	case !has(in, InDoorClosed):
		d[lTaken] = 1
	case r.Flags&ReqHands != 0:
		d[lTaken] = 2
	}
	return d
}

func scrambleForLink(rnd *rand.Rand, s *State) {
	s.Burner, s.Press = uint8(rnd.IntN(int(NumBurner))), uint8(rnd.IntN(int(NumPress)))
	s.Spindle, s.Unburnt, s.FlameMs = uint8(rnd.IntN(int(NumSpindle))), rnd.Uint32N(70000), uint16(rnd.IntN(200))
	s.Touching, s.Homed, s.HoldSeen = uint8(rnd.IntN(2)), uint8(rnd.IntN(2)), uint8(rnd.IntN(4))
	s.PhaseMs, s.SoftMs, s.NVMs = rnd.Uint32N(6000), uint16(rnd.IntN(100)), uint16(rnd.IntN(1100))
	if rnd.IntN(2) == 0 {
		s.Trips = 1 << rnd.IntN(int(NumCauses))
	}
}

func TestExploreLink(t *testing.T) {
	t.Parallel()
	c := testConfig()
	c.ArmMs, c.LeaseMs = 1200, 50
	if *full {
		c = testConfig()
	}
	s := linkSearch(linkPart(c), c)
	if *full {
		s.hint = 61 << 20
	}
	s.explore(t)
}

func TestExploreLinkInside(t *testing.T) {
	c := shortConfig()
	c.ArmMs, c.LeaseMs = 120, 25
	linkPart(c).holdsInside(t, 60000, func(*State, *State, *State) bool { return false })
}

// SV-044: each lease alone, at production constants, dies LeaseMs after the
// last frame that renewed it and no sooner; a frame that renews another, or
// none, does not keep it.
func TestExploreLeases(t *testing.T) {
	c := testConfig()
	for i := range NumLeases {
		type node struct{ ms, ghost uint16 }
		s := &search[node]{
			name: "lease " + string('0'+rune(i)), start: []node{{forever, c.LeaseMs}},
			say:     alphabet{{"", "renewed", "others renewed", "new session", "new session renews"}}.say,
			key:     func(n *node) uint64 { return uint64(n.ms)<<16 | uint64(n.ghost) },
			letters: func(*node) []uint32 { return []uint32{0, 1, 2, 3, 4} },
			next: func(n *node, letter uint32) string {
				s, in, out := quiet, quietInput, Output{}
				s.LeaseMs[i] = n.ms
				n.ghost = min(n.ghost+1, c.LeaseMs)
				if letter >= 3 {
					in.NewSession, n.ghost = 1, c.LeaseMs
				}
				switch letter {
				case 1, 4:
					in.Fresh, in.Request.Lease, n.ghost = 1, 1<<i, 0
				case 2:
					in.Fresh, in.Request.Lease = 1, 15&^(1<<i)
				}
				explored(&c, &s, &in, &out)
				n.ms = min(s.LeaseMs[i], c.LeaseMs)
				if leased(&c, &s, i) != (n.ghost < c.LeaseMs) {
					return "8: a lease lives too long or too short"
				}
				return ""
			},
		}
		if f := s.explore(t); len(f.keys) < int(c.LeaseMs) {
			t.Errorf("only %d states of lease %d", len(f.keys), i)
		}
	}
}

// "3 bad frames in 1 s or 10 in 6 min" (row 35): the least sum that so many
// frames can leave, over every pattern in the window. The sum never falls by
// more of it, so the least sum is enough, and 0 is the least to begin with.
func TestExploreBadFrames(t *testing.T) {
	const window = 360000
	least := [11]uint32{}
	for k := range least {
		least[k] = none
	}
	count := func(sum uint32, frames uint8) uint32 {
		s := State{ErrorSum: sum}
		countErrors(&s, &Input{BadFrames: frames})
		return s.ErrorSum
	}
	least[1] = count(0, 1)
	longest := [11]uint32{}
	for ms := uint32(1); ms <= window; ms++ {
		then := [11]uint32{}
		for k := range then {
			then[k] = none
			for frames := 0; frames <= 3 && frames < k; frames++ {
				if least[k-frames] != none {
					then[k] = min(then[k], count(least[k-frames], uint8(frames)))
				}
			}
		}
		least = then
		for k := range least {
			if least[k] != none && least[k] >= errorTrip {
				longest[k] = ms
			}
		}
	}
	if longest[2] != 0 || longest[3] != 1000 || longest[10] != window {
		t.Errorf("every pattern trips up to: 2 frames %d ms, 3 frames %d ms, 10 frames %d ms; want 0, 1,000, 360,000",
			longest[2], longest[3], longest[10])
	}
	// The price: fewer than ten frames trip too, in less time.
	for k, want := range map[int]uint32{4: 61000, 5: 121000, 9: window} {
		if longest[k] != want {
			t.Errorf("%d frames trip always up to %d ms; %d by the sum", k, longest[k], want)
		}
	}
}
