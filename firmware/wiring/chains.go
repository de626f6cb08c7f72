package wiring

// What a link of a chain is, told by its shape: hardware a plain box, a contact
// of the board's relay a box with double ends, what is switched a round box.
type linkKind int

const (
	hardware linkKind = iota
	asked
	load
)

type link struct {
	kind linkKind
	text string
}

// A chain: current reaches its last link only while all before it are made.
type chain struct {
	title string
	links []link
}

var chains = []chain{
	{"Supply", []link{{hardware, "mains\nisolator,\nlockable"}, {hardware, "breaker,\nresidual\ncurrent device"}, {hardware, "supply 2\n24 V, for\nchains only"}, {hardware, "fuse F2"},
		{hardware, "emergency\nstop relay"}, {hardware, "outside\nwatchdog\nrelay"}, {hardware, "chain plug"}, {load, "bus A:\nenabled 24 V"}}},
	{"Gas limits", []link{{load, "bus A"}, {hardware, "door\nrelay"}, {hardware, "fuel low\nswitch"}, {hardware, "fuel high\nswitch"}, {hardware, "oxygen low\nswitch"},
		{hardware, "oxygen high\nswitch"}, {hardware, "extraction\nflow switch"}, {hardware, "gas, oxygen\ndetector"}, {hardware, "flashback\nswitch"}, {load, "bus G:\nlimits made"}}},
	{"Call for heat", []link{{load, "bus G"}, {asked, "KI or KF1\n(in parallel)"}, {load, "certified\nburner control:\ncall for heat"}}},
	{"Fuel", []link{{hardware, "burner control:\nfuel valve\noutput"}, {asked, "KF1"}, {load, "fuel valve 1\nspring shut"}, {hardware, "burner control:\nfuel valve\noutput"}, {asked, "KF2"}, {load, "fuel valve 2\nspring shut"}}},
	{"Oxygen", []link{{load, "bus G"}, {hardware, "burner control:\nflame relay"}, {asked, "KO,\ncontact 1"}, {load, "oxygen valve 1\nspring shut"}, {hardware, "burner control:\nflame relay"}, {asked, "KO,\ncontact 2"}, {load, "oxygen valve 2\nspring shut"}}},
	{"Ignition", []link{{hardware, "burner control:\nignition\noutput"}, {asked, "KI"}, {load, "ignition\ntransformer"}}},
	{"Press closes", []link{{load, "bus A"}, {hardware, "door relay, or\ntwo-hand relay\n(parallel)"}, {hardware, "over-travel\nswitch"}, {hardware, "over-force\nswitch"}, {hardware, "encoder\nreceiver:\nno fault"}, {asked, "KC"}, {load, "closing valve\nor enable"}}},
	{"Press opens", []link{{load, "bus A"}, {hardware, "door relay, or\ntwo-hand relay\n(parallel)"}, {asked, "KU"}, {load, "opening valve\nor enable"}}},
	{"Brake", []link{{load, "bus A"}, {hardware, "door relay, or\ntwo-hand relay\n(parallel)"}, {asked, "KR"}, {load, "brake release;\nspring holds"}}},
	{"Spindle", []link{{load, "bus A"}, {hardware, "door\nrelay"}, {asked, "KS"}, {load, "drive: safe\ntorque off"}}},
	{"Slide", []link{{load, "bus A"}, {asked, "KB"}, {load, "slide valve;\nclear without"}}},
	{"Extraction", []link{{hardware, "supply 2\n24 V, for\nchains only"}, {asked, "KX with 60 s\nmore, or hand\n(parallel)"}, {load, "fan contactor,\nnever cut by a\nstop chain"}}},
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
