package rig

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"slices"
	"sort"
	"strings"
	"time"

	"pressrig/units"
	"pressrig/yamlfile"
)

// Bounds of what a profile may say. They keep every number inside the fixed
// point in which it travels (package warden) with room to spare, and inside
// what a one-room workshop has; package safety holds the standards' limits.
const (
	mostName      = 32
	mostNote      = 160
	mostFlow      = 30.0 // L/min; a flow travels as mL/min in 16 bits signed
	mostForceN    = 3000.0
	mostTravelMM  = 300.0
	mostSpeed     = 500.0 // mm/s
	mostRPM       = 3000.0
	mostHandSpeed = 10.0 // mm/s, hold-to-run with the door closed or two hands
	mostPositions = 16
	mostBuilds    = 8
	mostProofs    = 64
	leastStop     = 10 * time.Millisecond
	mostStopping  = 2 * time.Second // longer is no stop of a press
	mostRunDown   = time.Minute
	mostReliefBar = 400.0
	mostSetUpRPM  = 40.0 // leaves the spindle below 50 rpm, the usual limit of set-up modes
	airChanges    = 5.0  // of the purge: EN 746-2 5.2.3.2, BS 5990 15.5
)

// ParseProfile reads a rig profile. The file name is used in messages only. An
// error is a yamlfile.Problems with every fault of the file; the profile is
// nil then. It refuses what is plainly impossible; what the standards demand
// of the result is checked by package safety (CheckConfig).
func ParseProfile(file string, text []byte) (*Profile, error) {
	f := yamlfile.Read(file, text)
	p := &Profile{Text: bytes.Clone(text), Hash: sha256.Sum256(text)}
	root := f.Root().Map("rig", "note", "simulated", "port", "baud", "device", "axis", "board",
		"gas", "burner", "spindle", "press", "thermometer", "fitted", "signals", "calibrations",
		"proof_tests", "firmware_builds")
	if root.Node().Present() {
		p.head(root)
		p.sensors(root.Get("fitted"))
		p.Thermometer = thermometer(root.Need("thermometer", "say at least fitted: false"))
		if p.Board {
			p.works(root)
		} else {
			p.bare(root)
		}
		p.calibrations(root.Get("calibrations"))
		p.proofs(root.Get("proof_tests"))
		p.builds(root.Get("firmware_builds"))
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	return p, nil
}

func (p *Profile) head(m yamlfile.Map) {
	p.Name = m.Need("rig", "name the rig, like lathe-1").Ident(mostName)
	m.Get("note").Text(mostNote)
	p.Simulated = m.Get("simulated").Bool()
	p.Axis = m.Need("axis", "write horizontal or vertical").Choice("horizontal", "vertical")
	p.Board = m.Need("board", "write true, or false for a rig without a microcontroller").Bool()
	if !p.Board {
		return
	}
	p.Device = uint16(m.Need("device", "write the number that the board answers to").Count(1,
		65535))
	p.Baud = m.Need("baud", "write the speed of the line, usually 250000").Count(9600, 2_000_000)
	if port := m.Get("port"); port.Present() {
		p.Port = port.Text(mostNote)
	} else if !p.Simulated {
		m.Need("port", "write the serial device, or simulated: true")
	}
}

// works reads all that a rig with a microcontroller has.
func (p *Profile) works(m yamlfile.Map) {
	const all = "a rig with a board has one; see the built-in profiles"
	p.gas(m.Need("gas", all))
	p.burner(m.Need("burner", all))
	p.spindle(m.Need("spindle", all))
	p.press(m.Need("press", all))
	p.essentials(m)
	p.signals(m)
}

// bare is a rig without a microcontroller: the tool calls the phases, people
// do all the work, and there is nothing here that software could switch.
func (p *Profile) bare(m yamlfile.Map) {
	for _, key := range []string{"device", "baud", "port", "gas", "burner", "spindle", "press",
		"fitted", "signals", "calibrations", "firmware_builds"} {
		if n := m.Get(key); n.Present() {
			n.Fault(key+" on a rig without a board", "remove it, or write board: true")
		}
	}
	if m.Get("thermometer").Present() && p.Thermometer.Fitted {
		m.Get("thermometer").Fault("a thermometer on a rig without a board",
			"write {fitted: false}; nothing can read it")
	}
	p.Burner.Slide, p.Spindle.Fitted, p.Press.Fitted = ByHand, ByHand, ByHand
}

func (p *Profile) sensors(n yamlfile.Node) {
	p.Sensors = map[string]bool{}
	known := sensorNames()
	for _, item := range n.List(len(known)) {
		name := item.Word()
		if !item.Present() {
			continue
		}
		if !knownSensor(name) {
			right := "known: " + strings.Join(known, ", ")
			if near := yamlfile.Near(name, known); near != "" {
				right = "did you mean " + near + "? " + right
			}
			item.Fault("no channel is called "+quote(name), right)
			continue
		}
		if p.Sensors[name] {
			item.Fault(name+" stands twice", "keep one")
		}
		p.Sensors[name] = true
	}
}

// builds are programs of the board that are allowed beside the carried one.
func (p *Profile) builds(n yamlfile.Node) {
	for _, item := range n.List(mostBuilds) {
		if !item.Present() {
			continue
		}
		build, ok := ParseBuild(item.Word())
		switch {
		case !ok:
			item.Fault("no build of a firmware is called "+quote(item.Word()),
				"write the eight digits, 0 to 9 and a to f, that the board's firmware name ends with, in quotes")
		case slices.Contains(p.Builds, build):
			item.Fault("build "+quote(item.Word())+" stands twice", "keep one")
		default:
			p.Builds = append(p.Builds, build)
		}
	}
}

// ParseBuild reads the hash of a firmware build, as a board's firmware name ends
// with it: eight hexadecimal digits.
func ParseBuild(text string) (build uint32, ok bool) {
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != 4 || strings.ToLower(text) != text {
		return 0, false
	}
	return binary.BigEndian.Uint32(b), true
}

func sensorNames() []string {
	var names []string
	for _, s := range Switches {
		names = append(names, s.Name)
	}
	for _, c := range Analogs {
		names = append(names, c.Name)
	}
	return names
}

func knownSensor(name string) bool {
	_, analog := ChannelNamed(name)
	_, digital := SwitchNamed(name)
	return analog || digital
}

func (p *Profile) gas(n yamlfile.Node) {
	m := n.Map("fuel", "rated", "oxygen", "fuel_valves", "valve_closing", "trial", "purge",
		"enclosed_volume", "extraction_flow", "flame_sensor", "flame_response",
		"control_response", "fuel_min", "fuel_max", "soft_max", "oxygen_max", "fuel_line", "oxygen_line",
		"fan", "ratio_low", "ratio_high", "run_longest", "self_checking", "sharp_longest")
	g := &p.Gas
	g.Fuel = fuel(m.Need("fuel", "write propane, natural_gas or hydrogen"))
	g.Rated = units.Kilowatt(m.Need("rated", "write the burner's rated "+
		"power").Quantity(units.Power, 0.1, 70))
	g.Oxygen = m.Need("oxygen", "write true or false").Bool()
	valves := m.Need("fuel_valves", "write how many shut-off valves stand in series, at least 2")
	if g.FuelValves = valves.Count(1, 4); g.FuelValves == 1 {
		valves.Fault("one fuel valve", "fit two in series: one that leaks must not feed the flame")
	}
	g.ValveClosing = m.Need("valve_closing", "measure the slowest fuel "+
		"valve").Time(time.Millisecond, time.Second)
	g.Trial = m.Need("trial", "write the trial for ignition, at most 3 "+
		"s").Time(500*time.Millisecond, 3*time.Second)
	g.EnclosedVolume = units.Litre(m.Need("enclosed_volume",
		"write what the hood and enclosure hold").
		Quantity(units.Volume, 1, 100_000))
	g.ExtractionFlow = units.LitrePerMinute(m.Need("extraction_flow",
		"write the measured extraction flow").
		Quantity(units.Flow, 10, 1e6))
	g.purge(m.Need("purge", "write at least 30 s and five air changes"))
	g.FlameSensor = m.Need("flame_sensor", "write uv or ionisation").Choice("uv", "ionisation")
	g.FlameResponse = m.Need("flame_response", "write the time from flame lost to valves off, "+
		"at most 900 ms").
		Time(100*time.Millisecond, 900*time.Millisecond)
	if n := m.Get("control_response"); n.Present() {
		g.ControlResponse = n.Time(time.Millisecond, time.Second)
	}
	g.flows(m)
	g.ratio(m)
	g.flame(m)
	g.fan(m)
	g.FuelLine = line(m.Get("fuel_line"))
	g.OxygenLine = line(m.Get("oxygen_line"))
}

// Times that a profile need not say.
const (
	runLongest   = 8 * time.Hour    // a working day: the flame sensor is proven once in it
	sharpLongest = 45 * time.Minute // moulds take the best part of it to warm; a wedged daemon must not melt the machine: ours
	partAfter    = 3 * time.Second  // glass of a few millimetres sets at the mould's skin: common practice, no source
)

// ratio reads the window of oxygen to fuel; whoever writes one end writes both.
func (g *Gas) ratio(m yamlfile.Map) {
	low, high := m.Get("ratio_low"), m.Get("ratio_high")
	if !low.Present() && !high.Present() {
		return
	}
	for _, n := range []yamlfile.Node{low, high} {
		if n.Present() && !g.Oxygen {
			n.Fault("a ratio without oxygen", "remove ratio_low and ratio_high, or write oxygen: true")
			return
		}
	}
	high = m.Need("ratio_high", "write the most oxygen to fuel by volume, like 600 %")
	g.RatioLow = m.Need("ratio_low", "write the least oxygen to fuel by volume, like 20 %").Quantity(units.Share, 0, 1000) / 100
	g.RatioHigh = high.Quantity(units.Share, 1, 1000) / 100
	if g.RatioHigh <= g.RatioLow && g.RatioHigh != 0 {
		high.Fault("ratio_high is not above ratio_low", "write the most oxygen to fuel by volume")
	}
}

// flame reads how long a flame may burn.
func (g *Gas) flame(m yamlfile.Map) {
	g.RunLongest, g.SharpLongest = runLongest, sharpLongest
	if n := m.Get("run_longest"); n.Present() {
		g.RunLongest = n.Time(time.Minute, 30*24*time.Hour)
	}
	if n := m.Get("self_checking"); n.Present() {
		g.SelfChecking = n.Bool()
	}
	if n := m.Get("sharp_longest"); n.Present() {
		g.SharpLongest = n.Time(10*time.Second, time.Hour)
	}
}

// fan reads where the extraction's motor and contactor stand.
func (g *Gas) fan(m yamlfile.Map) {
	g.FanPlace = "neither"
	if n := m.Get("fan"); n.Present() {
		g.FanPlace = n.Choice("outside_hazardous_area", "rated", "neither")
	}
}

// line is the volume of a gas line between its cock and its first valve, 0
// where nobody measured it.
func line(n yamlfile.Node) units.Litre {
	if !n.Present() {
		return 0
	}
	return units.Litre(n.Quantity(units.Volume, 0.01, 20))
}

func (g *Gas) flows(m yamlfile.Map) {
	g.FuelMax = units.LitrePerMinute(m.Need("fuel_max", "write the largest fuel flow").
		Quantity(units.Flow, 0.05, mostFlow))
	soft := m.Need("soft_max", "write the largest fuel flow of a soft flame")
	g.SoftMax = units.LitrePerMinute(soft.Quantity(units.Flow, 0.05, mostFlow))
	if g.SoftMax > g.FuelMax && g.FuelMax > 0 {
		soft.Fault("soft_max is above fuel_max", "write at most "+units.Format(float64(g.FuelMax),
			units.Flow))
	}
	if least := m.Get("fuel_min"); least.Present() {
		g.FuelMin = units.LitrePerMinute(least.Quantity(units.Flow, 0.05, mostFlow))
		if g.FuelMin > g.SoftMax && g.SoftMax > 0 {
			least.Fault("fuel_min is above soft_max", "write at most "+units.Format(float64(g.SoftMax), units.Flow))
		}
	}
	if g.Oxygen {
		g.OxygenMax = units.LitrePerMinute(m.Need("oxygen_max", "write the largest oxygen flow").
			Quantity(units.Flow, 0.05, mostFlow))
	} else if n := m.Get("oxygen_max"); n.Present() {
		n.Fault("oxygen_max without oxygen", "remove it, or write oxygen: true")
	}
}

func fuel(n yamlfile.Node) string {
	if n.Word() == "acetylene" {
		n.Fault("fuel is acetylene", "this project refuses it: it decomposes by itself; use "+
			"propane, natural_gas or hydrogen")
		return ""
	}
	return n.Choice("propane", "natural_gas", "hydrogen")
}

// purge holds the purge to 30 s and five changes of the enclosed volume, which
// the warden's configuration cannot show any more.
func (g *Gas) purge(n yamlfile.Node) {
	g.Purge = n.Time(time.Second, time.Hour)
	if g.Purge == 0 || g.ExtractionFlow == 0 {
		return
	}
	minutes := airChanges * float64(g.EnclosedVolume) / float64(g.ExtractionFlow)
	changes := time.Duration(minutes * float64(time.Minute))
	least := max(30*time.Second, changes.Truncate(100*time.Millisecond))
	if g.Purge < least {
		n.Fault("purge is "+units.FormatTime(g.Purge), "write at least "+units.FormatTime(least)+
			": 30 s and five changes of the enclosed volume at the extraction flow")
	}
}

func thermometer(n yamlfile.Node) Thermometer {
	m := n.Map("fitted", "view", "wavelength", "emissivity", "low", "high")
	t := Thermometer{Fitted: m.Need("fitted", "write true or false").Bool()}
	if !t.Fitted {
		return t
	}
	t.View = m.Need("view", "write always or flame_aside").Choice("always", "flame_aside")
	w := m.Need("wavelength", "write the instrument's wavelength, like 5 um")
	if t.Wavelength = units.Micrometre(w.Quantity(units.Wavelength, 0.5,
		20)); t.Wavelength > 0 && t.Wavelength < 4 {
		w.Fault("below 4 um hot glass is seen through",
			"fit an instrument of about 5 um or 8 to 14 um")
	}
	t.Emissivity = m.Need("emissivity", "write what the instrument is set to, in percent").
		Quantity(units.Share, 10, 100) / 100
	t.Low = units.Celsius(m.Need("low", "write the lower end of the "+
		"range").Quantity(units.Temperature, -50, 1500))
	high := m.Need("high", "write the upper end of the range")
	t.High = units.Celsius(high.Quantity(units.Temperature, 0, 3000))
	if t.High <= t.Low && t.High != 0 {
		high.Fault("high is not above low", "write the upper end of the range")
	}
	return t
}

// Fits reports whether a switch or analog channel is fitted, by its name.
func (p *Profile) Fits(name string) bool { return p.Sensors[name] }

// PositionNames lists the profile's named press positions in order of travel.
func (p *Profile) PositionNames() []string {
	names := make([]string, 0, len(p.Press.Positions))
	for name := range p.Press.Positions {
		names = append(names, name)
	}
	sort.Slice(names, func(i, j int) bool {
		a, b := p.Press.Positions[names[i]], p.Press.Positions[names[j]]
		return a < b || a == b && names[i] < names[j]
	})
	return names
}
