package warden

// The gases as they flow. A flow controller or regulator that does not obey
// makes a flame that nobody asked for, and the flame guard sees it burn well:
// so what flows is held to what is asked (EN 746-2: a wrong ratio leads to shut-off).
//
// A host that regulates never stops changing what it asks, and a controller
// follows late. So a flow is held to the band of all that was asked in the last
// one to two FlowSettleMs, not to the newest set-point: a step has that long
// to arrive, and a set-point that dithers is judged all the same.

// Flow is what is remembered of one gas.
type Flow struct {
	Low, High       uint16 // asked in the present window, mL/min
	WasLow, WasHigh uint16 // asked in the window before
	OffMs           uint16
	OverMs          uint16
}

// The gases.
const (
	FlowFuel   uint8 = 0
	FlowOxygen uint8 = 1

	NumFlows uint8 = 2
)

// asked is the band of what was asked, mL/min.
func asked(f *Flow) (low, high uint16) { return min(f.Low, f.WasLow), max(f.High, f.WasHigh) }

// times is a product of 16 bits each that keeps all 32.
func times(a, b uint16) uint32 { return uint32(a) * uint32(b) }

func detectFlow(c *Config, s *State, in *Input) uint64 {
	var set uint64
	s.FlowMs = up(s.FlowMs)
	turn := s.FlowMs >= c.FlowSettleMs
	if turn {
		s.FlowMs = 0
	}
	fuel := flowOff(c, &s.Flow[FlowFuel], in, AiFuelFlow, s.Out.FuelMl, fuelOpen(s), turn)
	oxygen := flowOff(c, &s.Flow[FlowOxygen], in, AiOxygenFlow, s.Out.OxygenMl, s.Out.Bits&OutOxygen != 0, turn)
	set = mark(set, CauseFlowOff, fuel || oxygen)
	over := s.Flow[FlowFuel].OverMs >= c.FlowOverMs || s.Flow[FlowOxygen].OverMs >= c.FlowOverMs
	set = mark(set, CauseFlowOver, over)
	s.RatioMs = while(ratioWrong(c, s, in), s.RatioMs)
	set = mark(set, CauseRatio, s.RatioMs >= c.RatioMs)
	s.SharpMs = while32(sharpAtBlank(c, s, in), s.SharpMs)
	set = mark(set, CauseSharpLong, s.SharpMs >= c.SharpMs)
	return set
}

// flowOff follows one gas through this tick: askedMl is what was driven, open that
// its valves were. It tells whether the flow has been off for long enough; how long
// it has been far above stays in the flow. Too much counts with the valves shut as
// well, too little only where something may flow.
func flowOff(c *Config, f *Flow, in *Input, ai uint8, askedMl uint16, open, turn bool) bool {
	if turn {
		f.WasLow, f.WasHigh = f.Low, f.High
		f.Low, f.High = askedMl, askedMl
	} else {
		f.Low, f.High = min(f.Low, askedMl), max(f.High, askedMl)
	}
	if !analogOK(c, in, ai) {
		f.OffMs, f.OverMs = 0, 0
		return false
	}
	low, high := asked(f)
	ml := flowing(in, ai)
	var above, below uint16
	if ml > high {
		above = ml - high
	}
	if ml < low {
		below = low - ml
	}
	less := below > c.FlowOffMl && times(ml, 100) < times(low, 100-c.FlowOffPC)
	more := above > c.FlowOffMl && times(ml, 100) > times(high, 100+c.FlowOffPC)
	far := above > c.FlowNoneMl && times(ml, 100) > times(high, c.FlowOverPC)
	f.OffMs = while(open && (less || more), f.OffMs)
	f.OverMs = while(far, f.OverMs)
	return f.OffMs >= c.FlowOffMs
}

// flowing is a measured flow, mL/min; a meter's offset below nothing is nothing.
func flowing(in *Input, ai uint8) uint16 { return uint16(max(0, in.Analog[ai])) }

// settled: what is asked of a gas has hardly changed within its band.
func settled(c *Config, f *Flow) bool {
	low, high := asked(f)
	return high-low <= c.FlowOffMl || times(high, 100) <= times(low, 100+c.FlowOffPC)
}

// ratioWrong: with both gases settled, oxygen to fuel as measured is outside its
// window: sooty and cold, or with oxygen left over.
func ratioWrong(c *Config, s *State, in *Input) bool {
	judged := s.Out.Bits&OutOxygen != 0 && c.RatioHighPC != 0 &&
		analogOK(c, in, AiFuelFlow) && analogOK(c, in, AiOxygenFlow) &&
		settled(c, &s.Flow[FlowFuel]) && settled(c, &s.Flow[FlowOxygen])
	if !judged {
		return false
	}
	oxygen := times(flowing(in, AiOxygenFlow), 100)
	fuel := flowing(in, AiFuelFlow)
	return oxygen < times(fuel, c.RatioLowPC) || oxygen > times(fuel, c.RatioHighPC)
}

// sharpAtBlank: oxygen or more fuel than a soft flame burns where the glass is.
func sharpAtBlank(c *Config, s *State, in *Input) bool {
	sharp := s.Out.Bits&OutOxygen != 0 || s.Out.FuelMl > c.SoftMaxMl
	return sharp && atBlank(c, in)
}
