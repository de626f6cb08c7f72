package plan

import (
	"fmt"
	"math"
	"strings"

	"pressrig/rig"
)

// sheet writes a recipe file.
type sheet struct {
	strings.Builder
	b        *bench
	longestS float64 // of all phases so far
}

// longestMark stands where the sum of all phases' longest times goes.
const longestMark = "<longest>"

// recipe is the plan as a recipe file, with its reasons as comments.
func (b *bench) recipe() []byte {
	w, o := &sheet{b: b}, b.order
	w.head(o.Name, oneLine(o.Piece.Name), o.Mould.Lower.Name, o.Mould.Upper.Name)
	w.hands(o.Piece.Pins.Number)
	w.heating()
	w.stroke()
	w.after()
	total := fmt.Sprintf("%.0f min", math.Ceil(w.longestS/60)+1)
	return []byte(strings.Replace(w.String(), longestMark, total, 1))
}

func (w *sheet) line(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }

// phase begins one; the comment may be empty.
func (w *sheet) phase(name, kind, comment string) {
	if comment != "" {
		name = fmt.Sprintf("%-12s # %s", name, comment)
	}
	w.line("  - phase: %s\n    kind: %s", name, kind)
}

// ending is how the phase ends, its longest and what happens then.
func (w *sheet) ending(ends string, longestS float64, late string) {
	w.longestS += math.Ceil(longestS)
	w.line("    ends: {%s}\n    longest: %s\n    late: %s", ends, seconds(longestS), late)
}

func (w *sheet) head(name, note, lower, upper string) {
	b := w.b
	r := b.job.Ring
	w.line("# %s.", note)
	w.line("# PLANNED, not measured: computed by pressrig plan from the drawing, the glass and the rig")
	w.line("# profile, on usual figures of flame and contact. Rehearse it, then change one number at a")
	w.line("# time on dummies. This software is not a safety device.")
	w.line("recipe: %s\nnote: %s\nstanding: guess\nglass: %s", name, note, b.glass.Name)
	w.line("blank: {outer: %s mm, inner: %s mm, length: %s mm}   # %.2f g: weigh it", number(r.OuterMM), number(r.InnerMM),
		number(r.LengthMM), r.VolumeMM3()*b.job.Material.DensityKgM3*1e-6)
	band := ""
	if b.profile.Fits("mould_lower") && b.profile.Fits("mould_upper") {
		band = ", band: 25 K"
	}
	w.line("moulds: {lower: %s, upper: %s, lower_at: %.0f C, upper_at: %.0f C%s}", lower, upper, b.moulds.lowerC, b.moulds.upperC, band)
	w.line("window: {from: %.0f C, to: %.0f C}   # good pieces by the plan from %.0f to %.0f C", b.windowLow(), b.windowHigh(),
		b.window.lowC, b.window.highC)
	w.line("resume: warm\nlongest: %s\n\nphases:", longestMark)
}

// The stroke's permit lies a little outside the good pieces: the thermometer
// errs, and a doubtful piece tells more than none.
const permitK = 20.0

func (b *bench) windowLow() float64 {
	return math.Max(float64(b.glass.SofteningC), round(b.window.lowC-permitK-b.firing.asideK, 5))
}

func (b *bench) windowHigh() float64 {
	return math.Min(float64(b.glass.WorkingC), round(b.window.highC+permitK, 5))
}

func (w *sheet) hands(pins int) {
	if pins > 0 {
		w.phase("pins", "load", "")
		w.line("    prompt: \"%d pins in the lower half, all at one height?\"\n    spindle: 0 rpm", pins)
		w.ending("answer: true", 240, "stop")
	}
	w.phase("seat", "load", "")
	w.line("    prompt: \"Moulds swabbed, blank seated; does it run true?\"\n    spindle: 0 rpm")
	w.ending("answer: true", 240, "stop")
	w.phase("light", "light", "left at once where the flame is already proven")
	if w.byHand() {
		w.line("    prompt: \"Burner stays clear\"")
	}
	w.flame("clear", idle, "")
	w.ending("lit: true", 90, "stop")
}

// idle keeps the flame alive while the burner is clear.
var idle = flame{idleFuel, 0}

const idleFuel = 0.8 // L/min

func (w *sheet) byHand() bool { return w.b.profile.Burner.Slide == rig.HandWithSwitch }

func (w *sheet) flame(at string, f flame, more string) {
	oxygen := ""
	if f.oxygen > 0 {
		oxygen = ", oxygen: " + number(clean(f.oxygen)) + " L/min"
	}
	w.line("    flame: {at: %s, fuel: %s L/min%s%s}", at, number(clean(f.fuel)), oxygen, more)
}

// clean takes the dust of binary fractions off a flow.
func clean(v float64) float64 { return math.Round(v*1000) / 1000 }

func (w *sheet) spindle(rpm float64) {
	if w.b.profile.Spindle.Fitted != rig.NotFitted {
		w.line("    spindle: %.0f rpm", rpm)
	}
}

func (w *sheet) keepWarm() { w.line("    on_hold: {keep_warm: %s L/min, for: 60 s}", number(idleFuel)) }

// sees: the thermometer sees the glass past a flame.
func (w *sheet) sees() bool {
	t := w.b.profile.Thermometer
	return t.Fitted && t.View == "always"
}

func (w *sheet) heating() {
	b, f := w.b, &w.b.firing
	w.swing("swing_in", "warm", "Swing the burner to the blank", f.warm, b.spin.warmRPM, 15)
	w.phase("warm", "warm", fmt.Sprintf("%.0f MPa at most; cut edges stand about 7 to 19", f.tensionMPa))
	w.flame("blank", f.warm, "")
	w.spindle(b.spin.warmRPM)
	if w.sees() {
		w.ending(fmt.Sprintf("when: glass >= %.0f C, for: 1 s, least: %s", f.warmToC, seconds(f.warmS/2)), f.warmS*1.8, "hold")
	} else {
		w.ending("after: "+seconds(f.warmS), f.warmS*1.5, "hold")
	}
	w.keepWarm()
	w.phase("fire", "fire", "note when it looks soft: that is your own figure")
	if !w.sees() {
		w.line("    prompt: \"SOFT when the ring has rolled in\"")
	}
	w.flame("blank", f.fire, "")
	w.spindle(b.spin.fireRPM)
	if w.sees() {
		w.ending(fmt.Sprintf("when: glass >= %.0f C, for: 500 ms", b.targetC+overshootK), f.fireS*1.8, "hold")
	} else {
		w.ending("soft: true, least: "+seconds(f.fireS/2), f.fireS*2, "hold")
	}
	w.keepWarm()
	kind := "soak"
	if f.hardSoak {
		kind = "fire" // a soft flame does not hold so hard a glass
	}
	w.phase("soak", kind, fmt.Sprintf("surface and core meet; %.0f K are between them still", f.spreadK))
	more := ""
	if w.sees() {
		more = fmt.Sprintf(", hold: %.0f C, trim: %.0f %%", b.targetC, 100*soakTrim)
	}
	w.flame("blank", f.soak, more)
	w.spindle(b.spin.soakRPM)
	w.ending("after: "+seconds(f.soakS), f.soakS+3, "hold")
	w.keepWarm()
}

// swing is the burner's way to the blank where a hand moves it.
func (w *sheet) swing(name, kind, prompt string, f flame, rpm, longestS float64) {
	if !w.byHand() {
		return
	}
	w.phase(name, kind, "")
	w.line("    prompt: \"%s\"", prompt)
	w.flame("blank", f, "")
	w.spindle(rpm)
	w.ending("when: burner_at_blank on, for: 200 ms", longestS, "hold")
}

// clear takes the burner aside.
func (w *sheet) clear(name, kind, comment string, longestS float64) {
	w.phase(name, kind, comment)
	if w.byHand() {
		w.line("    prompt: \"Swing the burner clear, now\"")
	}
	w.flame("clear", idle, "")
	if name == "out" {
		w.spindle(0)
	} else {
		w.spindle(w.b.spin.pressRPM)
	}
	if w.byHand() {
		w.ending("when: burner_clear on, for: 300 ms", longestS+3, "hold")
	} else {
		w.ending("there: true", longestS, "hold")
	}
}

func (w *sheet) stroke() {
	b, k := w.b, &w.b.stroke
	w.clear("clear", "clear", "transfer time counts: 1.5 s or less from here to contact", 3)
	if b.profile.Press.Fitted != rig.Driven {
		w.lever()
		return
	}
	stop := b.profile.StopMM()
	w.phase("approach", "press", "")
	w.line("    press: {do: close, to: %s mm, speed: %.0f mm/s, force: 60 N}", number(round(b.waitMM(), 0.5)), math.Min(60, float64(b.profile.Press.SpeedMax)))
	w.ending("there: true", 3, "hold")
	w.phase("close", "press", "contact comes in here")
	w.line("    press: {do: close, to: %s mm, speed: %.0f mm/s, force: %.0f N}", number(stop-1), k.closeMMs, k.formN)
	w.ending("there: true, after: 2500 ms", 4, "next")
	w.phase("form", "press", "more force or time where edges are round, less where it flashes")
	w.line("    press: {do: force, force: %.0f N, to: %s mm}", k.formN, number(stop))
	w.ending("after: "+millis(k.formS-b.closeS()), k.formS+2, "next")
	w.phase("set", "set", fmt.Sprintf("light dwell until the mean is at %.0f C", float64(b.glass.SofteningC)-setBelowK))
	w.line("    press: {do: force, force: %.0f N, to: %s mm}", k.setN, number(stop))
	w.ending("after: "+millis(b.cooling.setS), b.cooling.setS+4, "next")
	pull := math.Min(40, float64(b.profile.Press.PullMax))
	w.phase("part", "part", "slowly at first; a pull above 30 N says that it sticks")
	w.line("    press: {do: open, to: %s mm, speed: 2.5 mm/s, force: %.0f N}", number(stop-3), pull)
	w.ending("there: true", 4, "hold")
	w.phase("lift", "part", "")
	w.line("    press: {do: open, to: %s, speed: 30 mm/s, force: %.0f N}", b.openName(), pull)
	w.ending("there: true", 5, "hold")
}

// lever is a stroke that a hand pulls.
func (w *sheet) lever() {
	k := &w.b.stroke
	w.phase("pull", "press", "the brake lets go when the glass is inside the window")
	w.line("    prompt: \"Pull the lever down\"\n    press: {do: close}")
	w.ending("when: press_open off, for: 200 ms", 5, "hold")
	w.phase("form", "press", fmt.Sprintf("about %.0f N by weight and lever, friction taken off: measure it", k.formN))
	w.line("    prompt: \"Full weight\"\n    press: {do: force}")
	w.ending("after: "+millis(k.formS), k.formS+2, "next")
	w.phase("set", "set", fmt.Sprintf("until the mean is at %.0f C", float64(w.b.glass.SofteningC)-setBelowK))
	w.line("    prompt: \"Leave it\"\n    press: {do: force}")
	w.ending("after: "+millis(w.b.cooling.setS), w.b.cooling.setS+4, "next")
	w.phase("part", "part", "")
	w.line("    prompt: \"Lift, slowly at first\"\n    press: {do: open}")
	w.ending("when: press_open on, for: 200 ms", 12, "hold")
}

// closeS is how long the closing takes of the forming time: the march forms
// from contact on.
func (b *bench) closeS() float64 { return 0 }

// waitMM is where the stroke waits above the ring.
func (b *bench) waitMM() float64 {
	return math.Max(0, b.profile.StopMM()+b.job.Cavity.DiscMM-puddleShare*b.job.Ring.LengthMM-waitAboveMM)
}

// Where the stroke slows down: above a ring that has rolled in to about this
// share of its length [common practice, no source].
const (
	puddleShare = 0.6
	waitAboveMM = 2.5
)

func (b *bench) openName() string {
	if _, ok := b.profile.Press.Positions["open"]; ok {
		return "open"
	}
	return "0 mm"
}

func (w *sheet) after() {
	b, c := w.b, &w.b.cooling
	w.swing("swing_back", "soft_flame", "Swing the burner back, now", c.soft, b.spin.coolRPM, 8)
	w.phase("soft_flame", "soft_flame", "the flame is back at the piece within 2 s, or it cracks")
	more := ""
	if w.sees() {
		more = fmt.Sprintf(", hold: %.0f C, trim: %.0f %%", c.softC, 100*softTrim)
	}
	w.flame("blank", c.soft, more)
	w.spindle(b.spin.coolRPM)
	w.ending("after: "+seconds(c.softS), c.softS+10, "next")
	w.phase("flame_cool", "flame_cool", "step down; the annealing oven does the rest")
	w.flame("blank", c.down, "")
	w.spindle(b.spin.coolRPM)
	if w.sees() {
		w.ending(fmt.Sprintf("when: glass <= %.0f C, for: 1 s, least: 5 s", c.downC), c.downS*2+20, "next")
	} else {
		w.ending("after: "+seconds(c.downS), c.downS*1.5+10, "next")
	}
	w.clear("out", "out", "", 4)
	w.phase("unload", "unload", fmt.Sprintf("oven: hold %.0f C for %.0f min, then %s K/min to %.0f C", c.oven.HoldC,
		c.oven.HoldS/60, number(math.Round(c.oven.CoolKS*600)/10), c.oven.ToC))
	w.line("    prompt: \"To the oven within 10 s with warm tweezers; is the upper half empty?\"")
	w.ending("answer: true", 180, "stop")
}

func seconds(s float64) string { return fmt.Sprintf("%.0f s", math.Ceil(s)) }
func millis(s float64) string  { return fmt.Sprintf("%.0f ms", math.Ceil(s*10)*100) }

// oneLine is a note that fits a line of the recipe.
func oneLine(piece string) string { return "planned for piece " + piece }
