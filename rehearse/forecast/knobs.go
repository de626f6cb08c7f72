package forecast

import (
	"math"
	"slices"
	"time"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
)

// Knob is a set-point that a person may turn or a tolerance that turns by
// itself, with a step that is usual for it.
type Knob struct {
	Name  string
	Step  string // in words: "+10 K"
	apply func(s *Setting, times float64)
}

// Effect is what one step of a knob does to the piece.
type Effect struct {
	Knob    string  `json:"knob"`
	Step    string  `json:"step"`
	Moves   float64 `json:"moves"` // largest change of a margin; 1 is a whole tolerance
	Finding string  `json:"finding"`
	From    float64 `json:"from"` // its margin before and after
	To      float64 `json:"to"`
	Fails   string  `json:"fails,omitempty"` // the cycle does not complete
}

// Knobs are what may be turned in this recipe, each at its usual step: tolerances
// of blank, gas and moulds, and every set-point that shapes the piece.
func Knobs(r *recipes.Recipe) []Knob {
	list := []Knob{
		{"blank length", "+0.2 mm", func(s *Setting, n float64) { s.LengthMM += 0.2 * n }},
		{"wall of the tube", "+0.1 mm", func(s *Setting, n float64) { s.WallMM += 0.1 * n }},
		{"gas (both flows)", "+5 %", func(s *Setting, n float64) { s.GasShare += 0.05 * n }},
		{"mould halves", "+10 K", func(s *Setting, n float64) { s.MouldK += 10 * n }},
	}
	for i := range r.Phases {
		list = append(list, phaseKnobs(r, i)...)
	}
	return list
}

// phaseKnobs are those of one phase.
func phaseKnobs(r *recipes.Recipe, i int) []Knob {
	ph := &r.Phases[i]
	var list []Knob
	add := func(what, step string, change func(ph *recipes.Phase, n float64)) {
		list = append(list, Knob{ph.Name + ": " + what, step, func(s *Setting, n float64) {
			c := *s.Recipe
			c.Phases = slices.Clone(c.Phases)
			change(&c.Phases[i], n)
			s.Recipe = &c
		}})
	}
	switch ph.Kind {
	case recipes.Warm, recipes.Fire, recipes.Soak, recipes.SoftFlame, recipes.FlameCool:
		if w := ph.End.When; w != nil && w.AI == warden.AiGlass && w.Switch == 0 {
			add("ends at glass", "+10 K", func(ph *recipes.Phase, n float64) {
				w := *ph.End.When
				w.Value += 10 * n
				w.Count += int16(math.Round(10 * n / rig.Analogs[warden.AiGlass].Scale))
				ph.End.When = &w
			})
		} else if ph.End.After > 0 {
			add("time", "+20 %", func(ph *recipes.Phase, n float64) { ph.End.After = longer(ph.End.After, n) })
		}
		add("fuel", "+10 %", func(ph *recipes.Phase, n float64) { ph.Flame.Fuel *= units.LitrePerMinute(1 + 0.1*n) })
		if ph.Flame.HasHold {
			add("held at", "+10 K", func(ph *recipes.Phase, n float64) { ph.Flame.HoldC += units.Celsius(10 * n) })
		}
	case recipes.Press, recipes.Set:
		if ph.Press.Do == recipes.DoForce && ph.End.After > 0 {
			add("time", "+20 %", func(ph *recipes.Phase, n float64) { ph.End.After = longer(ph.End.After, n) })
		}
		if ph.Press.Force > 0 {
			add("force", "+10 %", func(ph *recipes.Phase, n float64) { ph.Press.Force *= units.Newton(1 + 0.1*n) })
		}
		if ph.Press.Do == recipes.DoClose {
			add("speed", "+20 %", func(ph *recipes.Phase, n float64) {
				ph.Press.Speed *= units.MillimetrePerSecond(1 + 0.2*n)
			})
		}
	}
	return list
}

func longer(d time.Duration, n float64) time.Duration {
	return time.Duration(float64(d) * (1 + 0.2*n)).Round(10 * time.Millisecond)
}

// Turn rehearses the setting with one step of a knob, up and down, and keeps
// the one that moves the piece more.
func Turn(s *Setting, base *Result, k *Knob) (Effect, error) {
	worst := Effect{Knob: k.Name, Step: k.Step}
	for _, n := range []float64{1, -1} {
		turned := *s
		turned.Trace = false
		k.apply(&turned, n)
		r, err := Play(&turned)
		if err != nil {
			return worst, err
		}
		e := compare(base, r)
		if e.Moves > worst.Moves {
			e.Knob, e.Step = k.Name, k.Step
			if n < 0 {
				e.Step = "-" + k.Step[1:]
			}
			worst = e
		}
	}
	return worst, nil
}

// lost is how far a knob moves a piece whose cycle it ends: more than any margin.
const lost = 1000

// compare finds the margin that moved most.
func compare(base, r *Result) Effect {
	var e Effect
	if !r.Complete && base.Complete {
		return Effect{Moves: lost, Fails: r.State + ": " + r.Reason}
	}
	for i := range base.Findings {
		from, to := base.Findings[i].Margin, r.Findings[i].Margin
		if moved := math.Abs(to - from); moved > e.Moves {
			e = Effect{Moves: moved, Finding: base.Findings[i].What, From: from, To: to}
		}
	}
	return e
}
