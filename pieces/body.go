package pieces

import (
	"math"
	"slices"
)

// ring is a step as it stands in the body: an annular frustum. Index 0 is its
// lower end, 1 its upper.
type ring struct{ z, in, out [2]float64 }

// rings stacks the steps from the datum upwards. Faces widen towards the
// parting outside, away from their floor inside.
func (p *Piece) rings() []ring {
	t := math.Tan(p.DraftDeg * math.Pi / 180)
	var list []ring
	z := 0.0
	for _, s := range p.Steps {
		wide, open := s.RadiusMM+s.HeightMM*t, s.BoreMM+s.HeightMM*t
		if s.BoreMM == 0 {
			open = 0
		}
		r := ring{z: [2]float64{z, z + s.HeightMM}, in: [2]float64{open, s.BoreMM}, out: [2]float64{s.RadiusMM, wide}}
		if s.Upper {
			r.in, r.out = [2]float64{s.BoreMM, open}, [2]float64{wide, s.RadiusMM}
		}
		list = append(list, r)
		z += s.HeightMM
	}
	return list
}

// flat is a level face between two radii.
type flat struct{ from, to, z float64 }

// flats lists the level faces of the body that look up or down.
func flats(rings []ring, up bool) []flat {
	end, other, next := 0, 1, -1
	if up {
		end, other, next = 1, 0, 1
	}
	var list []flat
	for i, r := range rings {
		if i+next < 0 || i+next >= len(rings) {
			list = append(list, flat{r.in[end], r.out[end], r.z[end]})
			continue
		}
		n := rings[i+next]
		for _, f := range []flat{{r.in[end], n.in[other], r.z[end]}, {n.out[other], r.out[end], r.z[end]}} {
			if f.to > f.from {
				list = append(list, f)
			}
		}
	}
	return list
}

// flatUnder finds the face that holds everything from one radius to another.
func flatUnder(rings []ring, up bool, from, to float64) (flat, bool) {
	for _, f := range flats(rings, up) {
		if f.from <= from && f.to >= to {
			return f, true
		}
	}
	return flat{}, false
}

// sectionAt is the height of glass at a radius, draft left aside.
func (p *Piece) sectionAt(radius float64) float64 {
	sum := 0.0
	for _, s := range p.Steps {
		if s.BoreMM <= radius && radius < s.RadiusMM {
			sum += s.HeightMM
		}
	}
	return sum
}

// sections are the thinnest and the thickest of the body: along the axis
// between the steps' radii, and across the rims where they are narrowest.
func (p *Piece) sections(rings []ring) (thinnest, thickest float64) {
	radii := []float64{0}
	for _, s := range p.Steps {
		radii = append(radii, s.BoreMM, s.RadiusMM)
	}
	slices.Sort(radii)
	radii = slices.Compact(radii)
	thinnest = math.Inf(1)
	for i := range len(radii) - 1 {
		if h := p.sectionAt((radii[i] + radii[i+1]) / 2); h > 0 {
			thinnest, thickest = min(thinnest, h), max(thickest, h)
		}
	}
	for i, r := range rings {
		if r.in[0]+r.in[1] > 0 {
			thinnest = min(thinnest, r.out[0]-r.in[0], r.out[1]-r.in[1])
		}
		if i > 0 {
			if neck, hollow := neckOf(rings[i-1], r); hollow {
				thinnest = min(thinnest, neck)
			}
		}
	}
	return thinnest, thickest
}

// neckOf is the width of glass that joins two rings; hollow tells whether a
// bore bounds it.
func neckOf(low, high ring) (width float64, hollow bool) {
	inner := max(low.in[1], high.in[0])
	return min(low.out[1], high.out[0]) - inner, inner > 0
}
