package plan

import (
	"math"

	"pressrig/glass/forming"
)

// flame is a setting of the burner, L/min.
type flame struct{ fuel, oxygen float64 }

// march takes one blank through the phases, open loop: what the plan's settings
// do on the plant. Its steps are those of the simulated rig.
type march struct {
	blank  *forming.Blank
	around forming.Around
}

const stepS = 0.01

func newMarch(job *forming.Job, lowerC, upperC float64) *march {
	return &march{forming.New(*job), forming.Around{LowerC: lowerC, UpperC: upperC, Turning: true}}
}

func (m *march) fork() *march { return &march{m.blank.Fork(), m.around} }

// heat holds a flame at the blank until done, at most for mostS. It tells the
// time that it took, and whether done came true.
func (m *march) heat(f flame, mostS float64, done func(*forming.State) bool) (float64, bool) {
	m.around.FlameWPerK, m.around.FlameC = forming.FlameAt(f.fuel, f.oxygen)
	for i := range int(math.Round(mostS / stepS)) {
		s := m.blank.State()
		if done(&s) {
			return float64(i) * stepS, true
		}
		m.blank.Step(stepS, &m.around)
	}
	return mostS, false
}

func never(*forming.State) bool { return false }

func skinFrom(c float64) func(*forming.State) bool {
	return func(s *forming.State) bool { return s.SkinC >= c }
}

// stroke is how the press closes.
type stroke struct {
	closeMMs, formN, formS, setN float64
	stopMM                       float64 // height of the closed cavity
}

// transferS is from the flame going aside to contact, of a driven rig: 1.5 s or
// less is the aim [common practice, no source].
const transferS = 1.5

// pressForm closes on the glass and forms it.
func (m *march) pressForm(k *stroke) {
	m.heat(flame{}, transferS, never)
	m.around.Pressed, m.around.Turning = true, false
	h := m.blank.State().HeightMM
	for range int(math.Round(k.formS / stepS)) {
		for range 10 {
			drag := m.blank.Drag(h)
			v := math.Min(k.closeMMs, k.formN/drag)
			m.around.ForceN = v * drag
			h = math.Max(k.stopMM, h-stepS/10*v)
			m.blank.Squash(h)
		}
		if h <= k.stopMM {
			m.around.ForceN = k.formN
		}
		m.blank.Step(stepS, &m.around)
	}
}

func (m *march) hold(s float64) {
	m.heat(flame{}, s, never)
}

// part lifts the upper half with little pull.
func (m *march) part() {
	m.around.Pressed, m.around.ForceN = false, -partN
	m.hold(1)
	m.around.ForceN = 0
}

// partN is what a half that does not stick is lifted with [common practice, no
// source].
const partN = 10.0

// bisect finds where rises from false to true between low and high.
func bisect(low, high float64, enough func(float64) bool) float64 {
	for range 24 {
		middle := (low + high) / 2
		if enough(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high
}
