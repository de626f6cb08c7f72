package forming

import "math"

// Limits are what a piece is accepted by. People edit them: these are a stem
// maker's [common practice, no source].
type Limits struct {
	ThicknessMM float64 // deviation from the closed cavity
	EdgeMM      float64
	BeadShare   float64 // least
	FinMM       float64
	DeformMM    float64
	MarksUM     float64
	StickK      float64 // mould face against the sticking limit
	RetardNM    float64
	Crack       float64 // probability
}

// UsualLimits accept a stem: thickness +-0.15 mm, edges up to 0.5 mm, marks up
// to 0.5 um, retardation up to 50 nm.
func UsualLimits() Limits {
	return Limits{ThicknessMM: 0.15, EdgeMM: 0.5, BeadShare: 0.95, FinMM: 0.15, DeformMM: 0.1, MarksUM: 0.5,
		StickK: 0, RetardNM: 50, Crack: 0.1}
}

// Finding is one figure of a piece against its limit.
type Finding struct {
	What   string  `json:"what"`
	Value  float64 `json:"value"`
	Limit  float64 `json:"limit"`
	Unit   string  `json:"unit,omitempty"`
	Margin float64 `json:"margin"` // 1 perfect, 0 at the limit, negative outside
	Defect string  `json:"defect,omitempty"`
}

// Judge sets the piece against limits, one finding a figure, in the order in
// which a person inspects.
func (o *Outcome) Judge(discMM float64, l *Limits) []Finding {
	off := math.Abs(o.ThicknessMM - discMM)
	beads := 1.0
	if l.BeadShare < 1 {
		beads = (o.BeadShare - l.BeadShare) / (1 - l.BeadShare)
	}
	list := []Finding{
		{"thickness off by", off, l.ThicknessMM, "mm", 1 - off/l.ThicknessMM, "not filled or too much glass"},
		{"edge radius", o.EdgeMM, l.EdgeMM, "mm", 1 - o.EdgeMM/l.EdgeMM, "rounded edges"},
		{"beads filled", 100 * o.BeadShare, 100 * l.BeadShare, "%", beads, "beads short"},
		{"flash", o.FinMM, l.FinMM, "mm", 1 - o.FinMM/l.FinMM, "flash"},
		{"lifted or sagged", o.DeformMM, l.DeformMM, "mm", 1 - o.DeformMM/l.DeformMM, "let go too soft"},
		{"marks of the mould", o.MarksUM, l.MarksUM, "um", 1 - o.MarksUM/l.MarksUM, "copied marks"},
		{"mould face over sticking", o.StickK, l.StickK, "K", (l.StickK - o.StickK) / stickScaleK, "sticks"},
		{"crack while warming", 100 * o.WarmCrack, 100 * l.Crack, "%", 1 - o.WarmCrack/l.Crack, "cracks while warming"},
		{"crack while cooling", 100 * o.CoolCrack, 100 * l.Crack, "%", 1 - o.CoolCrack/l.Crack, "cracks while cooling"},
		{"retardation", o.RetardNM, l.RetardNM, "nm", 1 - o.RetardNM/l.RetardNM, "stress"},
	}
	for i := range list {
		list[i].Margin = min(1, list[i].Margin)
		if list[i].Margin >= 0 && o.Pressed {
			list[i].Defect = ""
		}
	}
	return list
}

// stickScaleK is how far below sticking counts as perfect.
const stickScaleK = 30.0

// Good: pressed, and nothing outside its limit.
func Good(o *Outcome, findings []Finding) bool {
	for i := range findings {
		if findings[i].Margin < 0 {
			return false
		}
	}
	return o.Pressed
}

// Inspection is what a person would find on the piece, with the spread of
// gauges and of the piece itself.
type Inspection struct {
	ThicknessMM [3]float64 `json:"thickness_mm"`
	EdgeMM      [8]float64 `json:"edge_mm"` // at clock positions
	BeadMM      []float64  `json:"bead_mm,omitempty"`
	FlashMM     float64    `json:"flash_mm"`
	RetardNM    float64    `json:"retardation_nm"`
	ChillGrade  int        `json:"chill_grade"` // 0 to 3
	MarksGrade  int        `json:"marks_grade"` // 0 to 3, marks copied from the mould
	Stuck       bool       `json:"stuck"`
	Cracked     string     `json:"cracked,omitempty"` // "while warming", "while cooling"
}

// Gauges: standard uncertainty [common practice, no source].
const (
	caliperMM    = 0.02
	loupeMM      = 0.05
	polariscopNM = 5.0
	tilt         = 0.2 // one side of a piece differs from the other by so much
)

// Inspect looks at the piece. normal gives numbers of a standard normal
// distribution, uniform of [0, 1).
func (o *Outcome) Inspect(beads int, depthMM float64, normal, uniform func() float64) Inspection {
	var n Inspection
	side := 2 * math.Pi * uniform()
	for i := range n.ThicknessMM {
		n.ThicknessMM[i] = o.ThicknessMM + caliperMM*normal()
	}
	for i := range n.EdgeMM {
		lean := 1 + tilt*math.Cos(2*math.Pi*float64(i)/8-side)
		n.EdgeMM[i] = max(0, o.EdgeMM*lean+loupeMM*normal())
	}
	for i := range beads {
		lean := 1 - tilt/4*(1+math.Cos(2*math.Pi*float64(i)/float64(beads)-side))*(1-o.BeadShare)
		n.BeadMM = append(n.BeadMM, max(0, o.BeadShare*depthMM*lean+caliperMM*normal()))
	}
	n.FlashMM = max(0, o.FinMM+caliperMM*normal())
	n.RetardNM = max(0, o.RetardNM+polariscopNM*normal())
	n.ChillGrade = int(min(3, max(0, math.Round(-o.StickK/40-1+o.EdgeMM))))
	n.MarksGrade = int(min(3, math.Round(o.MarksUM/0.4)))
	n.Stuck = o.StickK > 20*normal()
	switch {
	case uniform() < o.WarmCrack:
		n.Cracked = "while warming"
	case uniform() < o.CoolCrack:
		n.Cracked = "while cooling"
	}
	return n
}
