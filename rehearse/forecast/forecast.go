// Package forecast says what piece a recipe would give on the simulated rig:
// one rehearsal with its outcome judged, what moves that outcome most, and how
// it spreads over the tolerances of blanks, gas and moulds.
//
// It is pure: no clock, no file, no goroutine, chance from a seed. It is as good
// as the plant behind it: with usual figures it ranks recipes, fitted to a real
// rig it predicts, and it never replaces a trial. It is no safety device.
//
// Start reading at Play; knobs.go has what may be turned, spread.go the chance.
package forecast

import (
	"fmt"
	"slices"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/glass/forming"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/trials"
)

// Setting is what is rehearsed on what.
type Setting struct {
	Profile *rig.Profile
	Recipe  *recipes.Recipe
	Cavity  *forming.Cavity // nil: a plain disc that the blank just fills
	Tune    forming.Tune
	Oven    *forming.Oven // nil: judged as it leaves the rig
	Limits  forming.Limits
	Seed    uint64
	Trace   bool // keep the sampled channels

	// Deviations from what the recipe says.
	LengthMM, WallMM float64 // of the blank
	MouldK           float64
	GasShare         float64 // of the flows, 0: none
}

// Result is one rehearsed piece.
type Result struct {
	State    string
	Reason   string
	Complete bool
	Cycle    trials.Cycle
	Trace    trials.Trace
	Outcome  forming.Outcome
	Findings []forming.Finding
	Good     bool
	Crack    bool // the dice of this seed
	PullN    float64
	VirtualS float64
}

// mostMs is how long a cycle may take in virtual time.
const mostMs = 40 * 60 * 1000

// Job is what the setting presses from what.
func (s *Setting) Job() (forming.Job, error) {
	if s.Recipe.Assisted {
		return forming.Job{}, fmt.Errorf("recipe %s is assisted: no rig stands behind it, a person works valves and lever",
			s.Recipe.Name)
	}
	name := s.Recipe.Glass
	if name == "" || s.Recipe.Blank.Length == 0 {
		return forming.Job{}, fmt.Errorf("recipe %s has no glass: there is no piece to forecast; name glass and blank",
			s.Recipe.Name)
	}
	g := s.Recipe.Known
	if g == nil {
		return forming.Job{}, fmt.Errorf("no figures of glass %q", name)
	}
	b := &s.Recipe.Blank
	ring := forming.Ring{OuterMM: float64(b.Outer), InnerMM: float64(b.Inner), LengthMM: float64(b.Length)}
	job := forming.PlainDisc(forming.MaterialOf(g), ring, bench.DiscMM)
	if s.Cavity != nil {
		job.Cavity = *s.Cavity
	}
	job.Ring.LengthMM += s.LengthMM
	job.Ring.OuterMM += s.WallMM
	job.Ring.InnerMM -= s.WallMM
	job.Tune = s.Tune
	if s.GasShare != 0 {
		if job.Tune.Flame == 0 {
			job.Tune.Flame = 1
		}
		job.Tune.Flame *= 1 + s.GasShare
	}
	return job, nil
}

// Play rehearses one cycle and judges its piece. A cycle that does not complete
// is a result, not an error.
func Play(s *Setting) (*Result, error) {
	job, err := s.Job()
	if err != nil {
		return nil, err
	}
	h, err := begin(s, &job)
	if err != nil {
		return nil, err
	}
	return finish(s, &job, h), nil
}

func (s *Setting) lowerC() float64 { return float64(s.Recipe.Moulds.LowerC) + s.MouldK }
func (s *Setting) upperC() float64 { return float64(s.Recipe.Moulds.UpperC) + s.MouldK }

// begin gives the job to a rig that has just been switched on.
func begin(s *Setting, job *forming.Job) (*rehearse.Rehearsal, error) {
	h, err := rehearse.New(rehearse.Options{Profile: s.Profile, Seed: s.Seed, Answers: true,
		NoTrace: !s.Trace, Job: job, LowerC: s.lowerC(), UpperC: s.upperC()})
	if err != nil {
		return nil, err
	}
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "rehearsal", Recipe: s.Recipe})
	return h, nil
}

// finish sees the cycle through.
func finish(s *Setting, job *forming.Job, h *rehearse.Rehearsal) *Result {
	h.Steps = func(_ *controller.Input, out *controller.Output) { h.ByHand(s.Profile, s.Recipe, out) }
	ended := h.Run(mostMs, h.Ended)
	r := &Result{State: h.State().String(), Reason: h.Out.Status.Reason,
		Complete: h.State() == controller.Complete,
		Cycle:    h.Cycle(s.Recipe.Name, s.Profile.Name), Trace: h.Trace, Outcome: h.Rig.Piece(),
		PullN: h.Rig.Truth().PeakPullN, VirtualS: float64(h.Rig.Ms()) / 1000}
	if !ended {
		r.Reason = fmt.Sprintf("not ended within %d min", mostMs/60000)
	}
	if s.Oven != nil && r.Complete {
		r.Outcome = h.Rig.Annealed(s.Oven)
	}
	r.Findings = r.Outcome.Judge(job.Cavity.DiscMM, &s.Limits)
	r.Good = r.Complete && forming.Good(&r.Outcome, r.Findings)
	return r
}

// Series rehearses many pieces of one recipe. Purge and light-up, which no blank
// feels, are rehearsed once. Several goroutines may use it.
type Series struct {
	lit *rehearse.Rehearsal // never stepped again
}

// NewSeries rehearses up to where the glass first meets the flame.
func NewSeries(s *Setting) (*Series, error) {
	job, err := s.Job()
	if err != nil {
		return nil, err
	}
	quiet := *s
	quiet.Trace = false
	h, err := begin(&quiet, &job)
	if err != nil {
		return nil, err
	}
	h.Steps = func(_ *controller.Input, out *controller.Output) { h.ByHand(s.Profile, s.Recipe, out) }
	light := slices.IndexFunc(s.Recipe.Phases, func(ph recipes.Phase) bool { return ph.Kind == recipes.Light })
	h.Run(mostMs, func() bool { return h.Ended() || int(h.Out.Status.Phase) >= light })
	h.Run(mostMs, func() bool { return h.Ended() || int(h.Out.Status.Phase) > light })
	h.Steps = nil
	return &Series{h}, nil
}

// Play rehearses one piece, which differs from the series' setting in blank, gas,
// moulds and seed only.
func (x *Series) Play(s *Setting) (*Result, error) {
	job, err := s.Job()
	if err != nil {
		return nil, err
	}
	h := x.lit.Fork()
	h.Rig.Exchange(job, s.lowerC(), s.upperC(), s.Seed)
	return finish(s, &job, h), nil
}

// Inspect looks at the piece with usual gauges, chance from the setting's seed.
func Inspect(s *Setting, r *Result) forming.Inspection {
	c := chance(s.Seed ^ 0xA0761D6478BD642F)
	beads, depth := 0, 0.0
	if s.Cavity != nil {
		beads, depth = s.Cavity.Beads, s.Cavity.BeadDepthMM
	}
	return r.Outcome.Inspect(beads, depth, c.normal, c.share)
}
