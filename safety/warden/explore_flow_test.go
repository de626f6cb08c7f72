package warden

import "testing"

// The flows, alone: every order of set-points and of flows right, low, high and far
// above, at shortened times in the same order. The outsider remembers each set-point
// of the last two windows, which the warden does not.

const (
	fAsked = iota
	fMeasured
)

var flowWords = alphabet{
	{"", "asked 1000", "asked 3000"},
	{"", "1000 flow", "1300 flow", "6000 flow", "meter broken"},
}

var flowAsked, flowMeasured = [...]uint16{0, 1000, 3000}, [...]int16{0, 1000, 1300, 6000, 0}

type flowNode struct {
	s       State
	asked   [6]uint16 // newest first, two windows
	offMs   uint16    // off everything asked in two windows
	nearMs  uint16    // off everything asked in this tick and a window before
	overMs  uint16
	aboveMs uint16
}

func flowConfig() Config {
	c := testConfig()
	c.FlowSettleMs, c.FlowOffMs, c.FlowOverMs = 2, 4, 2
	if *full {
		c.FlowSettleMs, c.FlowOffMs = 3, 5
	}
	return c
}

func (n *flowNode) key() uint64 {
	f := &n.s.Flow[FlowFuel]
	h := uint64(n.s.FlowMs)<<48 | uint64(f.OffMs)<<40 | uint64(f.OverMs)<<32 | uint64(f.Low)<<16 | uint64(f.High)
	h = mix(h) ^ uint64(f.WasLow)<<40 ^ uint64(f.WasHigh)<<20 ^ uint64(n.s.Out.FuelMl)
	for _, a := range n.asked {
		h = mix(h) + uint64(a)
	}
	return mix(h) + uint64(n.offMs)<<24 + uint64(n.nearMs)<<16 + uint64(n.overMs)<<8 + uint64(n.aboveMs)
}

// off and far are the rules in words: 20 % and 0.1 L/min, 150 % and 0.2 L/min.
func flowIsOff(ml, asked int) bool {
	return ml > asked && (ml-asked)*5 > asked && ml-asked > 100 || ml < asked && (asked-ml)*5 > asked && asked-ml > 100
}

func flowIsFar(ml, asked int) bool { return ml*2 > asked*3 && ml-asked > 200 }

// sides: whether the flow is off on the same side of every set-point of a window.
func (n *flowNode) all(window int, ml int16, is func(ml, asked int) bool) bool {
	above, below := true, true
	for _, a := range n.asked[:window] {
		off := is(int(ml), int(a))
		above = above && off && int(ml) > int(a)
		below = below && off && int(ml) < int(a)
	}
	return above || below
}

func (n *flowNode) watch(c *Config, present uint64, ml int16, ok, open bool) string {
	copy(n.asked[1:], n.asked[:])
	n.asked[0] = n.s.Out.FuelMl
	window := int(c.FlowSettleMs)
	count := func(t *uint16, on bool) { *t = min((*t+1)*uint16(one(on)), 9) }
	// Off everything asked in two windows has to be found; what was right for
	// anything asked a window ago or since must never be.
	count(&n.offMs, ok && open && n.all(2*window, ml, flowIsOff))
	count(&n.nearMs, ok && open && n.all(window+1, ml, flowIsOff))
	count(&n.overMs, ok && n.all(2*window, ml, flowIsFar))
	count(&n.aboveMs, ok && n.all(window+1, ml, flowIsFar))
	off, over := present&(1<<CauseFlowOff) != 0, present&(1<<CauseFlowOver) != 0
	switch {
	case off && n.nearMs < c.FlowOffMs:
		return "19: a flow that is as asked, or lags a window, counts as off"
	case !off && n.offMs >= c.FlowOffMs:
		return "3: a flow that is not what was asked goes on"
	case over && n.aboveMs < c.FlowOverMs:
		return "19: a flow counts as far above what it is near to"
	case !over && n.overMs >= c.FlowOverMs:
		return "3: a flow far above what was asked goes on"
	}
	return ""
}

func flowSearch(c, limits Config) *search[flowNode] {
	return &search[flowNode]{
		name: "flow", start: []flowNode{{s: quiet}}, say: flowWords.say, key: (*flowNode).key,
		letters: func(*flowNode) []uint32 { return flowWords.every() },
		next: func(n *flowNode, letter uint32) string {
			d := flowWords.digits(letter)
			in, s := quietInput, quiet
			s.Flow, s.FlowMs = n.s.Flow, n.s.FlowMs
			s.Out.FuelMl = flowAsked[d[fAsked]]
			open := s.Out.FuelMl != 0
			if open {
				s.Out.Bits = OutFuel
			}
			in.Analog[AiFuelFlow] = flowMeasured[d[fMeasured]]
			ok := d[fMeasured] != 4
			if !ok {
				in.AnalogOK &^= 1 << AiFuelFlow
			}
			n.s = s
			present := detectFlow(&c, &s, &in)
			broken := n.watch(&limits, present, in.Analog[AiFuelFlow], ok, open)
			f := &s.Flow[FlowFuel]
			f.OffMs, f.OverMs = min(f.OffMs, c.FlowOffMs), min(f.OverMs, c.FlowOverMs)
			n.s.Flow, n.s.FlowMs, n.s.Out = s.Flow, s.FlowMs, Output{}
			return broken
		},
		operator: func(*flowNode) uint32 { return 0 },
		idle:     func(n *flowNode) bool { return n.s.Flow[FlowFuel] == Flow{} },
	}
}

func TestExploreFlow(t *testing.T) {
	t.Parallel()
	c := flowConfig()
	flowSearch(c, c).explore(t)
	for name, fault := range map[string]func(*Config){
		"3": func(c *Config) { c.FlowOffMs++ },
		"19": func(c *Config) {
			c.FlowSettleMs-- // a controller that lags a window would trip
		},
	} {
		bad := c
		fault(&bad)
		if f := flowSearch(bad, c).run(); len(f.broken) < 3 || f.broken[:len(name)] != name {
			t.Errorf("found %q; want a break of %s", f.broken, name)
		}
	}
}
