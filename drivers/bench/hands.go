package bench

import "pressrig/safety/warden"

// Button is a button at the rig.
type Button uint8

// The buttons, in the order of their names.
const (
	ButtonStart Button = 0
	ButtonReset Button = 1
	ButtonSoft  Button = 2
	ButtonOpen  Button = 3 // hold-to-run: open
	ButtonClose Button = 4 // hold-to-run: close slowly
	ButtonLeft  Button = 5 // two-hand control
	ButtonRight Button = 6
	ButtonTurn  Button = 7 // hold-to-run: turn the spindle slowly

	NumButtons = 8
)

var buttonNames = [NumButtons]string{"START", "RESET", "SOFT", "OPEN", "CLOSE", "LEFT", "RIGHT",
	"TURN"}

var buttonBits = [NumButtons]uint32{
	warden.InStart, warden.InReset, warden.InSoft, warden.InHoldOpen, warden.InHoldClose,
	warden.InTwoHandLeft, warden.InTwoHandRight, warden.InHoldTurn,
}

// String is the button's name as it stands on the rig.
func (b Button) String() string {
	if int(b) < len(buttonNames) {
		return buttonNames[b]
	}
	return "button?"
}

// ButtonNamed finds a button by its name.
func ButtonNamed(name string) (Button, bool) {
	for i, n := range buttonNames {
		if n == name {
			return Button(i), true
		}
	}
	return 0, false
}

// Hand is something a person does at the rig other than pressing a button.
type Hand uint8

// What a hand can do. Swinging the burner and moving the lever have an effect
// only where the profile has them done by hand.
const (
	HandBurnerIn    Hand = 0
	HandBurnerClear Hand = 1
	HandLeverClose  Hand = 2
	HandLeverOpen   Hand = 3
	HandLeverRest   Hand = 4
	HandLoad        Hand = 5 // seat a fresh blank

	// Cocks that a person turns: at the supply, at the burner, and the test
	// cock between the fuel valves.
	HandFuelCockShut   Hand = 6
	HandFuelCockOpen   Hand = 7
	HandOxygenCockShut Hand = 8
	HandOxygenCockOpen Hand = 9
	HandBurnerCockShut Hand = 10
	HandBurnerCockOpen Hand = 11
	HandTestCockShut   Hand = 12
	HandTestCockOpen   Hand = 13
)

// handNames are the words of HandNamed, by number.
var handNames = [...]string{"burner in", "burner clear", "lever close", "lever open",
	"lever rest", "load", "fuel_cock shut", "fuel_cock open", "oxygen_cock shut", "oxygen_cock open",
	"burner_cock shut", "burner_cock open", "test_cock shut", "test_cock open"}

// String is what the hand does, in words.
func (h Hand) String() string {
	if int(h) < len(handNames) {
		return handNames[h]
	}
	return "hand?"
}

// HandNamed finds what a hand can do by its words.
func HandNamed(words string) (Hand, bool) {
	for i, n := range handNames {
		if n == words {
			return Hand(i), true
		}
	}
	return 0, false
}

// Press presses a button for so many milliseconds, at most an hour; a button
// already pressed stays so for the longer of both.
func (r *Rig) Press(b Button, forMs uint32) {
	if int(b) < NumButtons {
		r.hands.leftMs[b] = max(r.hands.leftMs[b], min(forMs, longestPressMs))
	}
}

const longestPressMs = 3600 * 1000

// SetDoor opens or closes the safety door.
func (r *Rig) SetDoor(closed bool) { r.hands.doorOpen = !closed }

// SetEstop presses the emergency stop, which then stays in, or releases it.
func (r *Rig) SetEstop(pressed bool) { r.hands.estop = pressed }

// SetSetUp turns the key switch to set-up, or back.
func (r *Rig) SetSetUp(on bool) { r.hands.setUp = on }

// Hand does something by hand.
func (r *Rig) Hand(h Hand) {
	switch h {
	case HandBurnerIn, HandBurnerClear:
		r.plant.slide.in = h == HandBurnerIn
	case HandLeverClose:
		r.plant.press.lever = LeverClose
	case HandLeverOpen:
		r.plant.press.lever = LeverOpen
	case HandLeverRest:
		r.plant.press.lever = LeverRest
	case HandLoad:
		r.plant.load(r.startC)
	case HandFuelCockShut, HandFuelCockOpen:
		r.plant.gas.fuelLine.cockShut = h == HandFuelCockShut
	case HandOxygenCockShut, HandOxygenCockOpen:
		r.plant.gas.oxygenLine.cockShut = h == HandOxygenCockShut
	case HandBurnerCockShut, HandBurnerCockOpen:
		r.plant.gas.burnerCockShut = h == HandBurnerCockShut
	case HandTestCockShut, HandTestCockOpen:
		r.plant.gas.seats.testOpen = h == HandTestCockOpen
	}
}

// Numbers of the automatic operator [common practice, no source].
const (
	reactMs     = 400 // from a lamp or a released brake to the hand
	pressMs     = 200 // a push on a button
	reloadBelow = 0.05
)

// operator is a person who seats a fresh blank, pushes START when the armed
// lamp is on, and moves the lever of a press worked by hand. It answers no
// prompts: those go through the daemon.
type operator struct {
	on      bool
	lampMs  uint16 // armed lamp on
	brakeMs uint16 // brake off
}

func (o *operator) step(r *Rig, out *warden.Output) {
	if !o.on {
		return
	}
	if out.Bits&warden.OutArmedLamp == 0 {
		o.lampMs = 0
	} else if o.lampMs <= reactMs {
		o.lampMs++
		o.atLamp(r)
	}
	if r.plant.press.driven {
		return
	}
	if out.Bits&warden.OutBrake != 0 {
		o.brakeMs = 0
		r.plant.press.lever = LeverRest
		return
	}
	if o.brakeMs <= reactMs {
		o.brakeMs++
	}
	if o.brakeMs > reactMs {
		r.plant.press.lever = leverFor(out)
	}
}

func (o *operator) atLamp(r *Rig) {
	if o.lampMs == 1 && r.plant.used() {
		r.plant.load(r.startC)
	}
	if o.lampMs == reactMs {
		r.Press(ButtonStart, pressMs)
	}
}

// leverFor is the movement that the outputs ask for.
func leverFor(out *warden.Output) Lever {
	switch {
	case out.Bits&warden.OutPressClose != 0:
		return LeverClose
	case out.Bits&warden.OutPressOpen != 0:
		return LeverOpen
	}
	return LeverRest
}

// load seats a fresh blank.
func (p *plant) load(startC float64) {
	p.glass.Load(startC)
	p.state = p.glass.State()
	p.press.touching, p.press.bonded = false, false
	p.press.bondAtMM, p.press.dwellS = 0, 0
}

// used: the blank on the mould is no fresh ring any more.
func (p *plant) used() bool {
	return p.state.HeightMM < p.glass.Ring().LengthMM-0.5 || p.state.Gathered > reloadBelow
}
