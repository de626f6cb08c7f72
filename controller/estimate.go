package controller

// Limits of the extrapolation of the glass temperature (invariant 9).
const (
	sampleMs        = 200   // a sample older than this is no measurement
	fitMs           = 1_000 // samples that the line is laid through
	estimateLongest = 2_000 // oldest newest sample
	maxSamples      = 64    // 1 s at up to 50 snapshots a second, with reserve
	minSamples      = 5
	minSpanMs       = 200 // a slope from less is noise
	floorDC         = 20  // 2 K: what the thermometer itself may be off
	// curveDCs2: cooling by radiation slows down. At 18 K/s and 880 C the bend
	// is about 4 x 18^2/1150 = 1.1 K/s2; a half of 2.2 K/s2 x age^2 covers it.
	curveDCs2 = 22
)

// sample is one believed glass temperature.
type sample struct {
	ms uint64
	dC int16
}

// estimator keeps the newest believed samples. All of it is integers, so that
// a replay on any processor gives the same bits.
type estimator struct {
	ring [maxSamples]sample
	n    int // valid samples
	head int // place of the newest
}

func (e *estimator) add(ms uint64, dC int16) {
	e.head = (e.head + 1) % maxSamples
	e.ring[e.head] = sample{ms, dC}
	e.n = min(e.n+1, maxSamples)
}

// back is the i-th newest sample.
func (e *estimator) back(i int) sample {
	return e.ring[(e.head-i+maxSamples)%maxSamples]
}

// estimate is an extrapolated glass temperature with its uncertainty.
type estimate struct {
	dC    int16
	uncDC uint16
	ageMs uint16
	ok    bool
}

// line is a least-squares line through the samples of the last fitMs before
// the newest, time counted back from it.
type line struct {
	n, st, stt, sy, sty int64
	spanMs              int64
}

func (e *estimator) fit() line {
	var l line
	newest := e.back(0).ms
	for i := range e.n {
		s := e.back(i)
		if newest-s.ms > fitMs {
			break
		}
		t, y := -int64(newest-s.ms), int64(s.dC)
		l.n, l.st, l.stt = l.n+1, l.st+t, l.stt+t*t
		l.sy, l.sty, l.spanMs = l.sy+y, l.sty+t*y, -t
	}
	return l
}

// det is n times the spread of the sample times; 0 when there is no line.
func (l *line) det() int64 { return l.n*l.stt - l.st*l.st }

// at is the line's value t ms after the newest sample, 0.1 C.
func (l *line) at(t int64) int64 {
	det := l.det()
	slope := l.n*l.sty - l.st*l.sy // over det, 0.1 C per ms
	return rounded(l.sy*det+slope*(l.n*t-l.st), l.n*det)
}

// rounded is a/b to the nearest whole number; b > 0.
func rounded(a, b int64) int64 {
	if a < 0 {
		return -((-a + b/2) / b)
	}
	return (a + b/2) / b
}

// slopeDCs is the slope of the newest samples in 0.1 C per s; ok is false
// without enough of them.
func (e *estimator) slopeDCs(now uint64) (slope int64, ok bool) {
	if e.n < minSamples || now-e.back(0).ms > sampleMs {
		return 0, false
	}
	l := e.fit()
	det := l.det()
	if l.n < minSamples || l.spanMs < minSpanMs || det <= 0 {
		return 0, false
	}
	return rounded(1000*(l.n*l.sty-l.st*l.sy), det), true
}

// at extrapolates to now. The uncertainty is what the thermometer may be off,
// twice the largest residual grown by the distance, and the bend of cooling.
func (e *estimator) at(now uint64) estimate {
	if e.n < minSamples {
		return estimate{}
	}
	age := now - e.back(0).ms
	l := e.fit()
	if age > estimateLongest || l.n < minSamples || l.spanMs < minSpanMs || l.det() <= 0 {
		return estimate{}
	}
	worst := e.residual(&l)
	a := int64(age)
	unc := floorDC + 2*worst + 2*worst*a/l.spanMs + curveDCs2*a*a/2_000_000
	value := l.at(a)
	if value < -32_768 || value > 32_767 || unc > 65_535 {
		return estimate{}
	}
	return estimate{dC: int16(value), uncDC: uint16(unc), ageMs: uint16(age), ok: true}
}

func (e *estimator) residual(l *line) int64 {
	newest, worst := e.back(0).ms, int64(0)
	for i := range int(l.n) {
		s := e.back(i)
		off := int64(s.dC) - l.at(-int64(newest-s.ms))
		worst = max(worst, off, -off)
	}
	return worst
}

// takeGlass keeps a believed sample, dated back by its age, and trims.
func (m *Machine) takeGlass(dtMs uint64) {
	dC, ok := m.glass()
	if !ok {
		return
	}
	age := uint64(m.see.snap.GlassAgeMs)
	at := m.now - min(age, m.now)
	if m.est.n > 0 && at <= m.est.back(0).ms {
		return // the same sample again
	}
	m.est.add(at, dC)
	m.trim.step(dC, dtMs)
}
