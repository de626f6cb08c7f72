package trials

import (
	"sort"
	"time"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// bridgeMs is the longest hole between two samples that is read across: more
// than that is a gap, and what lay in it is not known. Samples come every
// 10 ms; a step in which none came is no gap yet.
const bridgeMs = 100

// span is a phase of one cycle under its key: the same phase run a second time
// (after Restart) is another span.
type span struct {
	key  string
	kind string
	Phase
}

// spans keys the phases of a cycle, in the order they ran.
func spans(c *Cycle) []span {
	count := map[string]int{}
	out := make([]span, 0, len(c.Phases))
	for _, p := range c.Phases {
		count[p.Name]++
		out = append(out, span{key: keyOf(p.Name, count[p.Name]), kind: p.Kind, Phase: p})
	}
	return out
}

func keyOf(name string, time int) string {
	if time == 1 {
		return name
	}
	return name + " (" + ordinal(time) + " time)"
}

// valid reports whether row i of channel ai can be believed.
func (t *Trace) valid(ai, i int) bool {
	if t.OK[i]&(1<<ai) == 0 {
		return false
	}
	return ai != int(warden.AiGlass) || len(t.Flags) != len(t.Ms) || t.Flags[i]&rig.FlagViewFree != 0
}

// has reports whether the trace has rows of channel ai.
func (t *Trace) has(ai int) bool {
	return t != nil && ai < len(t.Analog) && len(t.Analog[ai]) == len(t.Ms) && len(t.Ms) > 0
}

// from is the first row at or after at.
func (t *Trace) from(at time.Duration) int {
	ms := at.Milliseconds()
	return sort.Search(len(t.Ms), func(i int) bool { return int64(t.Ms[i]) >= ms })
}

// at reads channel ai at a moment, in counts, between the samples on either
// side. It is false where no sample is near, or one of them is not valid.
func (t *Trace) at(ai int, ms float64) (float64, bool) {
	i := t.from(time.Duration(ms * float64(time.Millisecond)))
	for i < len(t.Ms) && float64(t.Ms[i]) < ms {
		i++ // from works in whole milliseconds
	}
	if i < len(t.Ms) && float64(t.Ms[i]) == ms {
		return float64(t.Analog[ai][i]), t.valid(ai, i)
	}
	if i == 0 || i == len(t.Ms) || t.Ms[i]-t.Ms[i-1] > bridgeMs {
		return 0, false
	}
	if !t.valid(ai, i) || !t.valid(ai, i-1) {
		return 0, false
	}
	a, b := float64(t.Analog[ai][i-1]), float64(t.Analog[ai][i])
	share := (ms - float64(t.Ms[i-1])) / float64(t.Ms[i]-t.Ms[i-1])
	return a + share*(b-a), true
}

// begin is when the work of a cycle begins: at the end of the hands-in loading
// before START, which lasts as long as the person takes.
func begin(c *Cycle) time.Duration {
	var at time.Duration
	for _, p := range c.Phases {
		if p.Kind != "load" {
			return p.Begin
		}
		at = p.End
	}
	return at
}
