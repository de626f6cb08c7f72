// Package fit finds from stored cycles of a rig what of the plant's guesses is
// otherwise there: how much of the burner's heat arrives, what the glass loses,
// how well the moulds touch, how stiff this glass is. Least squares, with
// intervals and a figure for what the model cannot explain.
//
// It is pure: no clock, no file, no chance. What the cycles cannot tell it
// refuses to say. A fitted plant predicts a rig like the one that was measured,
// and nothing about its safety.
//
// Start reading at Fit; drive.go plays a trace through the plant.
package fit

import (
	"errors"
	"fmt"
	"math"

	"pressrig/glass/forming"
	"pressrig/trials"
)

// Cycle is one stored cycle with what was pressed from what.
type Cycle struct {
	Trace  *trials.Trace
	Job    forming.Job // its Tune is not looked at
	StopMM float64     // travel where the mould halves meet
}

// Number is one figure of the plant.
type Number struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Low   float64 `json:"low_95"` // 95 % interval
	High  float64 `json:"high_95"`
	Told  bool    `json:"told"` // false: the cycles cannot tell, the guess stays
	Why   string  `json:"why,omitempty"`
}

// Plant is the result.
type Plant struct {
	Tune      forming.Tune `json:"-"`
	Numbers   []Number     `json:"numbers"`
	Samples   int          `json:"samples"`
	BeforeK   float64      `json:"error_before_k"` // root mean square of the glass temperature
	AfterK    float64      `json:"error_after_k"`
	LackOfFit float64      `json:"lack_of_fit"` // AfterK over the thermometer's own scatter; 1 explains all
}

// The numbers, in the order of a vector.
const (
	flame   = 0
	loss    = 1
	contact = 2
	stiff   = 3
	lag     = 4 // of the thermometer: found with the rest, not part of a plant
	start   = 5 // temperature of the blank when the trace begins: the same
	count   = 6
)

var names = [count]string{"flame", "loss", "contact", "log_viscosity", "thermometer_lag_s", "start_c"}

// need says which cycle would tell a number.
var need = [count]string{
	"record a heat-only cycle: the flame at the blank up to a plateau",
	"record a cool-only cycle: glass hot, flame aside, for 20 s or more",
	"record a cycle with the stroke and the glass seen again after parting",
	"record a cycle whose stroke squeezes the glass at a known speed and force",
	"", "",
}

// widest is how wide the half interval of a number may be before the cycles
// cannot tell it.
var widest = [count]float64{0.2, 0.2, 0.5, 0.3, math.Inf(1), math.Inf(1)}

// floor is the standard uncertainty that samples every 10 ms leave whatever
// their number, found by fitting simulated cycles.
var floor = [count]float64{0.001, 0.002, 0.015, 0.01, 0, 0}

var (
	least   = [count]float64{0.3, 0.3, 0.2, -1.5, 0, -20}
	largest = [count]float64{3, 3, 5, 1.5, 0.5, 300}
)

// ErrNothing: no cycle has a sample that the plant could be held to.
var ErrNothing = errors.New("no cycle shows the glass hot with a valid thermometer: nothing can be fitted; " +
	"record one with the thermometer fitted and its view free")

// fewest samples of the glass that a fit starts with.
const fewest = 50

// starts are where a fit begins. The first is the plant as it is thought to be; the
// others are tried where it leads to no good fit: the glass touches the moulds in one
// sample or the next, so the error jumps, and a descent can end beside such a jump.
var starts = [...][count]float64{
	{1, 1, 1, 0, 0.03, 20},
	{1.05, 1.05, 0.9, 0, 0.03, 20},
	{0.95, 0.95, 1.1, 0, 0.03, 20},
	{1.05, 1.05, 1.1, 0.05, 0.1, 20},
	{0.95, 0.95, 0.9, -0.05, 0.1, 20},
}

// goodFit is the lack of fit up to which the first start is believed.
const goodFit = 1.3

// Fit finds the plant. It fails when there is nothing to fit to.
func Fit(cycles []Cycle) (*Plant, error) {
	var best *Plant
	for _, x := range starts {
		found, err := descend(cycles, x)
		if err != nil {
			return nil, err
		}
		if best == nil {
			best = found
		} else if found.AfterK < best.AfterK { // the error before stays that of what was thought
			found.BeforeK = best.BeforeK
			best = found
		}
		if best.LackOfFit <= goodFit {
			break
		}
	}
	return best, nil
}

// descend goes from x to where the error is least nearby.
func descend(cycles []Cycle, x [count]float64) (*Plant, error) {
	p := problem{cycles: cycles}
	base, err := p.residuals(x)
	if err != nil {
		return nil, err
	}
	before := rms(base.temperature)
	free := [count]bool{true, true, true, len(base.force) > 0, true, true}
	var normal [count][count]float64
	lambda, cost := 1e-3, p.cost(base)
	for range 40 {
		var grad [count]float64
		normal, grad, err = p.normal(x, base, free)
		if err != nil {
			return nil, err
		}
		moved := false
		for range 8 {
			step, ok := solve(damped(normal, lambda, free), grad)
			if !ok {
				lambda *= 10
				continue
			}
			trial := clip(add(x, step))
			next, err := p.residuals(trial)
			if err != nil {
				return nil, err
			}
			if c := p.cost(next); c < cost {
				moved = cost-c > 1e-7*cost
				x, base, cost, lambda = trial, next, c, lambda/5
				break
			}
			lambda *= 5
		}
		p.rescale(base)
		cost = p.cost(base)
		if !moved {
			break
		}
	}
	if normal, _, err = p.normal(x, base, free); err != nil {
		return nil, err
	}
	return p.plant(x, base, before, normal, free), nil
}

// plant states the numbers with their intervals.
func (p *problem) plant(x [count]float64, r *residuals, before float64, normal [count][count]float64, free [count]bool) *Plant {
	out := &Plant{Samples: len(r.temperature), BeforeK: before, AfterK: rms(r.temperature)}
	out.LackOfFit = out.AfterK / max(1e-9, r.scatterK)
	var tune [count]float64
	tune[flame], tune[loss], tune[contact] = 1, 1, 1
	for i := range lag {
		n := Number{Name: names[i], Value: x[i], Told: true}
		half := math.Inf(1)
		if v, ok := variance(normal, i, free); ok && free[i] {
			half = 1.96 * math.Sqrt(v*correlation(r)+floor[i]*floor[i])
		}
		n.Low, n.High = x[i]-half, x[i]+half
		if !(half <= widest[i]) || x[i] <= least[i] || x[i] >= largest[i] {
			n.Told, n.Why = false, need[i]
			n.Value, n.Low, n.High = tune[i], 0, 0
		}
		tune[i] = n.Value
		out.Numbers = append(out.Numbers, n)
	}
	out.Tune = forming.Tune{Flame: tune[flame], Loss: tune[loss], Contact: tune[contact], LogPaS: tune[stiff]}
	return out
}

// problem is the fit under way.
type problem struct {
	cycles []Cycle
	sigmaK float64 // scale of the temperature residuals
	sigmaF float64 // of the logarithm of force
}

// residuals of all cycles: measured less predicted.
type residuals struct {
	temperature []float64 // K
	force       []float64 // ln of measured over predicted
	scatterK    float64   // of the thermometer, from neighbouring samples
}

func (p *problem) residuals(x [count]float64) (*residuals, error) {
	r := &residuals{}
	scatter, n := 0.0, 0
	for i := range p.cycles {
		drive(&p.cycles[i], x, r, &scatter, &n)
	}
	if len(r.temperature) < fewest {
		return nil, fmt.Errorf("%d samples of hot glass, at least %d are needed: %w", len(r.temperature), fewest, ErrNothing)
	}
	r.scatterK = math.Sqrt(scatter / float64(max(1, n)))
	if p.sigmaK == 0 {
		p.rescale(r)
	}
	return r, nil
}

// rescale takes the scatter of both kinds from what is left of them.
func (p *problem) rescale(r *residuals) {
	p.sigmaK, p.sigmaF = max(0.05, rms(r.temperature)), max(0.01, rms(r.force))
}

func (p *problem) cost(r *residuals) float64 {
	sum := 0.0
	for _, e := range r.temperature {
		sum += e * e / (p.sigmaK * p.sigmaK)
	}
	for _, e := range r.force {
		sum += e * e / (p.sigmaF * p.sigmaF)
	}
	return sum
}

// normal is the matrix and the right side of the normal equations, by
// differences.
func (p *problem) normal(x [count]float64, base *residuals, free [count]bool) (a [count][count]float64, g [count]float64, err error) {
	steps := [count]float64{0.002, 0.002, 0.01, 0.005, 0.005, 1}
	var columns [count]*residuals
	for i := range count {
		if !free[i] {
			continue
		}
		up := x
		up[i] += steps[i]
		if columns[i], err = p.residuals(up); err != nil {
			return a, g, err
		}
	}
	for k := range base.temperature {
		p.row(&a, &g, columns, steps, base.temperature[k], p.sigmaK, func(r *residuals) float64 { return r.temperature[k] })
	}
	for k := range base.force {
		p.row(&a, &g, columns, steps, base.force[k], p.sigmaF, func(r *residuals) float64 { return r.force[k] })
	}
	return a, g, nil
}

func (p *problem) row(a *[count][count]float64, g *[count]float64, columns [count]*residuals, steps [count]float64,
	e, sigma float64, of func(*residuals) float64) {
	var d [count]float64
	for i, c := range columns {
		if c != nil {
			d[i] = (of(c) - e) / steps[i] / sigma
		}
	}
	for i := range count {
		g[i] -= d[i] * e / sigma
		for j := range count {
			a[i][j] += d[i] * d[j]
		}
	}
}
