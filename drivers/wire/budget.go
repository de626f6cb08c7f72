package wire

// The rule "3 bad frames in 1 s, or 10 in 6 min" as one leaky integer: three
// within 1 s leave at least 3 x 60,000 - 1,000 = 179,000; ten within 360 s at
// least 600,000 - 360,000; two never reach it. The warden keeps the same
// integer for what it receives.
const (
	budgetPerFrame uint32 = 60000
	budgetTrip     uint32 = 179000
	budgetMax      uint32 = 600000 // saturation, so that it empties in 10 min
)

// Budget limits the rate of bad frames, because each has a small chance of
// not being found. The zero value is full health at time 0.
type Budget struct {
	sum     uint32
	atMs    uint32
	tripped bool
}

// Charge counts one bad frame at nowMs of a millisecond clock that may wrap.
func (b *Budget) Charge(nowMs uint32) {
	b.drain(nowMs)
	b.sum = min(b.sum+budgetPerFrame, budgetMax)
	b.tripped = b.tripped || b.sum >= budgetTrip
}

// Tripped reports whether the line was ever too bad since the last Reset.
func (b *Budget) Tripped() bool { return b.tripped }

// Reset is for the person who has seen to the line.
func (b *Budget) Reset() { b.sum, b.tripped = 0, false }

func (b *Budget) drain(nowMs uint32) {
	b.sum -= min(b.sum, nowMs-b.atMs)
	b.atMs = nowMs
}
