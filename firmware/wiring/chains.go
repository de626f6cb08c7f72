package wiring

// What a link of a chain is, told by its shape: hardware a plain box, a contact
// of the board's relay a box with double ends, what is switched a round box.
type linkKind int

const (
	hardware linkKind = iota
	asked
	load
)

// A contact is one way through a part: the wire list joins its two terminals
// to those beside it. A load has them too: its second one goes back to 0 V.
type contact struct{ part, in, out string }

// A link is made where one of its branches is; a branch where all of its
// contacts are.
type link struct {
	kind     linkKind
	text     string
	branches [][]contact
}

// A chain: current reaches its last link only while all before it are made.
type chain struct {
	title string
	links []link
}

func one(kind linkKind, text, part, in, out string) link {
	return link{kind, text, [][]contact{{{part, in, out}}}}
}

// The buses are strips of terminals; each wire has its own.
const (
	busA = "XA" // 24 V while stops and watchdog allow
	busD = "XD" // the same, off later: what needs power to stop
	busG = "XG" // gas limits made
	plus = "XP" // 24 V of supply 2, never cut by a stop
	zero = "X0" // 0 V of supply 2

	neutral = "XN" // return of what the burner control feeds
)

func bus(tag, text string) link { return link{load, text, [][]contact{{{tag, "", ""}}}} }

// Parts that stand in more than one chain.
var (
	door      = func(in, out string) contact { return contact{"K2", in, out} }
	twoHand   = func(in, out string) contact { return contact{"K3", in, out} }
	openByArm = func(in, out string) contact { return contact{"S5", in, out} }
)

var chains = []chain{
	{"Supply", []link{one(hardware, "mains\nisolator,\nlockable", "Q1", "1", "2"), one(hardware, "breaker,\nresidual\ncurrent device", "Q2", "1", "2"), one(hardware, "supply 2\n24 V, for\nchains only", "G2", "L", "+"), bus(plus, "24 V, not\ncut by stops")}},
	{"Enabled", []link{bus(plus, "24 V"), one(hardware, "fuse F2", "F2", "1", "2"), one(hardware, "emergency\nstop relay,\nat once", "K1", "13", "14"), one(hardware, "window\nwatchdog\nrelay", "K4", "13", "14"), one(hardware, "chain plug", "X9", "1", "2"), bus(busA, "bus A:\nenabled 24 V")}},
	{"Stopping", []link{bus(plus, "24 V"), one(hardware, "fuse F6", "F6", "1", "2"), one(hardware, "emergency\nstop relay,\ndelayed", "K1", "57", "58"), one(hardware, "window\nwatchdog\nrelay", "K4", "23", "24"), bus(busD, "bus D: off\nafter the\nstated ramp")}},
	{"Gas limits", []link{bus(busA, "bus A"), one(hardware, "set-up key,\nclosed at\nrun", "S9", "21", "22"), one(hardware, "fuel low\nswitch", "B1", "11", "12"), one(hardware, "fuel high\nswitch", "B2", "11", "12"), one(hardware, "oxygen low\nswitch", "B3", "11", "12"),
		one(hardware, "oxygen high\nswitch", "B4", "11", "12"), one(hardware, "extraction\nflow switch", "B5", "13", "14"), one(hardware, "gas, oxygen\ndetector", "B6", "11", "12"), one(hardware, "flashback\nswitch", "B7", "11", "12"), bus(busG, "bus G:\nlimits made")}},
	{"Call for heat", []link{bus(busG, "bus G"),
		{hardware, "door relay, or\nslide's safety\nclear switch", [][]contact{{door("13", "14")}, {{"B8", "21", "22"}}}},
		{asked, "KI and KFR\nat rest, or\nKF1", [][]contact{{{"KI", "11", "14"}, {"KFR", "41", "42"}}, {{"KF1", "23", "24"}}}},
		one(load, "certified\nburner control:\ncall for heat", "A2", "call", "call 0 V")}},
	{"Fuel", []link{one(hardware, "burner control:\nfuel valve\noutput", "A2", "supply 1", "V1"), one(asked, "KF1", "KF1", "13", "14"), one(load, "fuel valve 1\nspring shut", "Y1", "1", "2"), one(hardware, "burner control:\nfuel valve\noutput", "A2", "supply 2", "V2"), one(asked, "KF2", "KF2", "13", "14"), one(load, "fuel valve 2\nspring shut", "Y2", "1", "2")}},
	{"Flame", []link{bus(busG, "bus G"), one(hardware, "burner control:\nflame relay", "A2", "F1", "F2"), one(load, "repeater KFR,\nforce-guided", "KFR", "A1", "A2")}},
	{"Oxygen 1", []link{bus(busG, "bus G"), one(hardware, "door\nrelay", "K2", "23", "24"), one(hardware, "KFR,\ncontact 1", "KFR", "13", "14"), one(asked, "KO1", "KO1", "13", "14"), one(load, "oxygen valve 1\nspring shut", "Y3", "1", "2")}},
	{"Oxygen 2", []link{bus(busG, "bus G"), one(hardware, "door\nrelay", "K2", "33", "34"), one(hardware, "KFR,\ncontact 2", "KFR", "23", "24"), one(asked, "KO2", "KO2", "13", "14"), one(load, "oxygen valve 2\nspring shut", "Y4", "1", "2")}},
	{"Ignition", []link{one(hardware, "burner control:\nignition\noutput", "A2", "supply 3", "IG"), one(asked, "KI", "KI", "21", "24"), one(load, "ignition\ntransformer", "T1", "1", "2")}},
	{"Closing", []link{bus(busA, "bus A;\npowered rig"), {hardware, "door relay, or\ntwo-hand relay\n(parallel)", [][]contact{{door("43", "44")}, {twoHand("13", "14")}}}, one(hardware, "over-travel\nswitch", "B9", "11", "12"), one(hardware, "over-force\nswitch", "B10", "11", "12"), one(hardware, "encoder\nreceiver:\nno fault", "A4", "11", "14"), one(asked, "KC", "KC", "13", "14"), one(load, "closing valve\nor enable", "Y5", "1", "2")}},
	{"Opening", []link{bus(busA, "bus A;\npowered rig"), {hardware, "door, two-hand\nor OPEN button\n(parallel)", [][]contact{{door("53", "54")}, {twoHand("23", "24")}, {openByArm("23", "24")}}}, one(asked, "KU", "KU", "13", "14"), one(load, "opening valve\nor enable", "Y6", "1", "2")}},
	{"Brake", []link{bus(busA, "bus A;\npowered rig"), {hardware, "door, two-hand\nor OPEN button\n(parallel)", [][]contact{{door("63", "64")}, {twoHand("33", "34")}, {openByArm("33", "34")}}}, one(asked, "KR", "KR", "13", "14"), one(load, "brake release;\nspring holds", "Y7", "1", "2")}},
	{"Weights", []link{bus(busA, "bus A;\nweights rig"), {hardware, "door relay, or\ntwo-hand relay\n(parallel)", [][]contact{{door("73", "74")}, {twoHand("43", "44")}}}, one(hardware, "over-travel\nswitch", "B9", "21", "22"), one(hardware, "over-force\nswitch", "B10", "21", "22"), one(hardware, "encoder\nreceiver:\nno fault", "A4", "21", "24"), one(asked, "KR", "KR", "23", "24"), one(load, "brake release;\nspring holds", "Y8", "1", "2")}},
	{"Spindle", []link{bus(busD, "bus D"), one(hardware, "door relay,\ndelayed", "K2", "87", "88"), one(asked, "KS", "KS", "13", "14"), one(load, "drive: safe\ntorque off", "A5", "STO", "STO 0 V")}},
	{"Door lock", []link{bus(plus, "24 V"), one(hardware, "standstill\nmonitor of\nthe spindle", "K5", "13", "14"), one(hardware, "unlock\nbutton", "S10", "13", "14"), one(load, "door lock:\nlocked without\npower", "Y9", "1", "2")}},
	{"Slide", []link{bus(busA, "bus A"), one(hardware, "door\nrelay", "K2", "93", "94"), one(asked, "KB", "KB", "11", "14"), one(load, "slide valve;\nclear without", "Y10", "1", "2")}},
	{"Extraction", []link{bus(plus, "24 V"), {asked, "KX with 60 s\nmore, or hand\n(parallel)", [][]contact{{{"KX", "15", "18"}}, {{"S11", "13", "14"}}}}, one(load, "fan contactor,\nnever cut by a\nstop chain", "KV", "A1", "A2")}},
	{"Reset loop", []link{one(hardware, "emergency stop\nrelay: reset\nsource", "K1", "S33 feed", "S33"), one(hardware, "reset button\nof the relay", "S12", "13", "14"), one(hardware, "mirror KF1\nat rest", "KF1", "41", "42"), one(hardware, "mirror KF2\nat rest", "KF2", "41", "42"), one(hardware, "mirror KO1\nat rest", "KO1", "41", "42"), one(hardware, "mirror KO2\nat rest", "KO2", "41", "42"),
		{hardware, "mirrors KC,\nKU at rest", [][]contact{{{"KC", "41", "42"}, {"KU", "41", "42"}}}}, {hardware, "mirrors KR,\nKS at rest", [][]contact{{{"KR", "41", "42"}, {"KS", "41", "42"}}}}, one(hardware, "mirror KFR\nat rest", "KFR", "51", "52"), one(load, "emergency stop\nrelay: reset\ninput", "K1", "S34", "S35")}},
}

const (
	linkWide = 112
	linkHigh = 50
	linkStep = 128
)

func (c *canvas) chains(y int) int {
	c.bold(20, y, large, "2  The chains beside it")
	c.text(20, y+24, normal, "start", "Plain box: hardware that acts without the board. Double ends: a contact of the board's relay, which can only ask. "+
		"Round: what is switched. Each link has to be made.")
	y += 66
	for _, ch := range chains {
		c.chain(ch, y)
		y += linkHigh + 18
	}
	return y
}

func (c *canvas) chain(ch chain, y int) {
	c.bold(20, y+5, normal, ch.title)
	x := 120
	for i, l := range ch.links {
		switch l.kind {
		case load:
			c.rect(x, y-linkHigh/2, linkWide, linkHigh, 20)
		case asked:
			c.rect(x, y-linkHigh/2, linkWide, linkHigh, 0)
			c.line(x+6, y-linkHigh/2, x+6, y+linkHigh/2)
			c.line(x+linkWide-6, y-linkHigh/2, x+linkWide-6, y+linkHigh/2)
		case hardware:
			c.rect(x, y-linkHigh/2, linkWide, linkHigh, 0)
		}
		c.centred(x+linkWide/2, y, small, l.text)
		// What was switched ends a way; the next link begins another one.
		if i+1 < len(ch.links) && (l.kind != load || i == 0) {
			c.line(x+linkWide, y, x+linkStep, y)
		}
		x += linkStep
	}
}
