package bench

import "math"

// chance is a small generator of random numbers (SplitMix64, Steele, Lea and
// Flood 2014; constants from memory), seeded from Options so that runs repeat.
type chance uint64

func (c *chance) next() uint64 {
	*c += 0x9E3779B97F4A7C15
	z := uint64(*c)
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}

// share is uniform in [0, 1).
func (c *chance) share() float64 { return float64(c.next()>>11) / (1 << 53) }

// spread is uniform in [-1, 1).
func (c *chance) spread() float64 { return 2*c.share() - 1 }

// normal is one number of a standard normal distribution (Box and Muller 1958).
func (c *chance) normal() float64 {
	return math.Sqrt(-2*math.Log(1-c.share())) * math.Cos(2*math.Pi*c.share())
}
