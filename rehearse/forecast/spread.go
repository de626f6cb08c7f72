package forecast

import "math"

// Tolerances are what differs from piece to piece: standard deviations.
type Tolerances struct {
	LengthMM float64 // cut of the blank
	WallMM   float64 // of the tube
	GasShare float64
	MouldK   float64
}

// UsualTolerances: a saw's cut, drawn tube, a pressure regulator, a mould
// heater [common practice, no source].
func UsualTolerances() Tolerances {
	return Tolerances{LengthMM: 0.1, WallMM: 0.03, GasShare: 0.015, MouldK: 4}
}

// Vary is the setting of one piece of a series: its own seed and deviations.
func Vary(s *Setting, t *Tolerances, piece uint64) Setting {
	c := chance(s.Seed*0x9E3779B97F4A7C15 ^ (piece + 1))
	v := *s
	v.Trace, v.Seed = false, c.next()
	v.LengthMM += t.LengthMM * c.normal()
	v.WallMM += t.WallMM * c.normal()
	v.GasShare += t.GasShare * c.normal()
	v.MouldK += t.MouldK * c.normal()
	return v
}

// Survives: the dice of the piece's own seed against its risks of cracking.
func Survives(s *Setting, r *Result) bool {
	c := chance(s.Seed ^ 0xD1B54A32D192ED03)
	return c.share() >= r.Outcome.WarmCrack && c.share() >= r.Outcome.CoolCrack
}

// Yield is the share of good pieces with its 95 % interval after Wilson 1927,
// J. Am. Stat. Assoc. 22, 209.
func Yield(good, of int) (share, low, high float64) {
	if of == 0 {
		return 0, 0, 1
	}
	const z = 1.959963985
	n, p := float64(of), float64(good)/float64(of)
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return p, max(0, middle-half), min(1, middle+half)
}

// chance is a small generator (SplitMix64, Steele, Lea and Flood 2014; constants
// from memory).
type chance uint64

func (c *chance) next() uint64 {
	*c += 0x9E3779B97F4A7C15
	z := uint64(*c)
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}

func (c *chance) share() float64 { return float64(c.next()>>11) / (1 << 53) }

// normal is one number of a standard normal distribution (Box and Muller 1958).
func (c *chance) normal() float64 {
	return math.Sqrt(-2*math.Log(1-c.share())) * math.Cos(2*math.Pi*c.share())
}
