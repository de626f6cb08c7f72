package fit

import (
	"math"
	"slices"

	"pressrig/glass/forming"
	"pressrig/rig"
	"pressrig/safety/warden"
)

const (
	stepS     = 0.010
	everyMs   = 200 // a sample of the glass is taken so often
	longestMs = 250 // without a sample: the trace has a gap; a simulated rig at 20 times real time stamps every 200 ms
	hotC      = 310 // a thermometer shows nothing below its range
	squeezeN  = 15.0
	touchMM   = 0.15 // mould halves this close touch the glass
	slowMMs   = 1.0  // slower, the speed of the press is not known from its travel
)

// drive plays one trace through the plant and collects what differs.
func drive(c *Cycle, x [count]float64, out *residuals, scatter *float64, n *int) {
	job := c.Job
	job.Tune = forming.Tune{Flame: x[flame], Loss: x[loss], Contact: x[contact], LogPaS: x[stiff]}
	b := forming.New(job)
	b.Load(x[start])
	t := c.Trace
	seen := reading{lagS: x[lag]}
	value := func(i int, ai uint8) float64 { return float64(t.Analog[ai][i]) * rig.Analogs[ai].Scale }
	var a forming.Around
	sampled := uint32(0)
	for i := seated(t.In); i+1 < len(t.Ms); i++ {
		dt := t.Ms[i+1] - t.Ms[i]
		if dt > longestMs { // nothing is known of the glass in a gap
			return
		}
		a = around(t.In[i], value(i, warden.AiFuelFlow), value(i, warden.AiOxygenFlow))
		a.LowerC, a.UpperC = value(i, warden.AiMouldLower), value(i, warden.AiMouldUpper)
		gap := c.StopMM + job.Cavity.DiscMM - value(i, warden.AiTravel)
		force := value(i, warden.AiForce)
		squeezed(b, force, gap, speed(value, t.Ms, i), out)
		if gap <= b.State().HeightMM+touchMM {
			a.Pressed, a.ForceN = true, force
			b.Squash(gap)
		}
		for s := 0.0; s < float64(dt)/1000-1e-6; s += stepS {
			b.Step(min(stepS, float64(dt)/1000-s), &a)
		}
		seen.follow(b.State().SkinC, float64(dt)/1000)
		if !visible(t.OK, t.Flags, i+1) || t.Ms[i+1]-sampled < everyMs {
			continue
		}
		sampled = t.Ms[i+1]
		measured := value(i+1, warden.AiGlass)
		if measured < hotC {
			continue
		}
		out.temperature = append(out.temperature, measured-seen.c)
		if visible(t.OK, t.Flags, i) { // neighbours differ by the thermometer's own scatter
			d := measured - value(i, warden.AiGlass) - seen.moved
			*scatter += d * d / 2
			*n++
		}
	}
}

// seated is where START is seen first: until then the piece before may still be
// on the mould. A trace without a START begins with the blank seated.
func seated(in []uint32) int {
	return max(0, slices.IndexFunc(in, func(bits uint32) bool { return bits&warden.InStart != 0 }))
}

// reading follows the skin as the thermometer does.
type reading struct {
	lagS, c, moved float64
	begun          bool
}

func (r *reading) follow(skinC, dtS float64) {
	if !r.begun {
		r.c, r.begun = skinC, true
	}
	before := r.c
	r.c += (skinC - r.c) * (1 - math.Exp(-dtS/max(r.lagS, 1e-3)))
	r.moved = r.c - before
}

func around(in uint32, fuelLmin, oxygenLmin float64) forming.Around {
	var a forming.Around
	if in&warden.InFlame != 0 && in&warden.InBurnerAtBlank != 0 {
		a.FlameWPerK, a.FlameC = forming.FlameAt(fuelLmin, oxygenLmin)
	}
	return a
}

func visible(ok, flags []uint16, i int) bool {
	return ok[i]&(1<<warden.AiGlass) != 0 && (flags == nil || flags[i]&rig.FlagViewFree != 0)
}

// speed of closing at i, mm/s, over 30 ms; 0 where it is not known.
func speed(value func(int, uint8) float64, ms []uint32, i int) float64 {
	if i < 3 || ms[i]-ms[i-3] > 60 || ms[i] == ms[i-3] {
		return 0
	}
	return 1000 * (value(i, warden.AiTravel) - value(i-3, warden.AiTravel)) / float64(ms[i]-ms[i-3])
}

// squeezed holds the force against what the plant would take at this speed. The
// same samples count whatever the numbers are, so that they can be compared.
func squeezed(b *forming.Blank, forceN, gapMM, speedMMs float64, out *residuals) {
	free := gapMM > 1.06*b.Cavity().DiscMM
	if !free || speedMMs < slowMMs || forceN < squeezeN {
		return
	}
	out.force = append(out.force, math.Log(forceN/(speedMMs*b.Drag(gapMM))))
}
