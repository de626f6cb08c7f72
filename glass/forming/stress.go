package forming

// stress keeps the greatest stresses that the piece has seen, and what stays.
// Glass above its strain point relaxes and counts as free.
type stress struct {
	warmPa   float64 // greatest tension while heating the cold ring
	coolPa   float64 // greatest surface tension after the disc has set
	frozen   bool
	frozenC  [layers]float64 // deviation from the mean when the disc set
	centrePa float64         // permanent, tension
	facePa   float64         // permanent, negative is compression
}

func (s *stress) step(b *Blank) {
	if b.disc.made {
		s.cool(b)
		return
	}
	r, m := &b.ring, &b.job.Material
	for z := range levels {
		mean := r.levelC(z)
		if mean >= m.StrainC {
			continue
		}
		for i := range walls { // the cold side of a wall is in tension
			s.warmPa = max(s.warmPa, m.stressPerK()*(mean-r.c[z][i]))
		}
	}
}

// cool freezes the profile in when the mean passes the set point (strain point
// + 5 K): what was cooler then is in compression once all is cold, and while a
// difference stands its own temporary stress comes on top (Adams and Williamson
// 1920).
func (s *stress) cool(b *Blank) {
	d, m := &b.disc, &b.job.Material
	mean := d.meanC()
	if mean > m.StrainC+setAboveK {
		s.frozen = false // set again, stress free again
		return
	}
	if !s.frozen {
		s.frozen = true
		for i, c := range d.c {
			s.frozenC[i] = c - mean
		}
		s.centrePa = m.stressPerK() * s.frozenC[layers/2]
		s.facePa = m.stressPerK() * min(s.frozenC[0], s.frozenC[layers-1])
	}
	for _, i := range [...]int{0, layers - 1} {
		s.coolPa = max(s.coolPa, m.stressPerK()*(s.frozenC[i]-(d.c[i]-mean)))
	}
}

// setAboveK: the set point of glass lies about this above the strain point
// (Kohl, from memory).
const setAboveK = 5.0
