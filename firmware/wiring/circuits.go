package wiring

const (
	panelWide = 670
	panelHigh = 275
)

// circuits draws one panel for each letter.
func (c *canvas) circuits(pins []Pin, y int) int {
	c.bold(20, y, large, "3  One circuit of each kind")
	c.text(20, y+22, normal, "start", "Each part is a box with its name, whatever it is. Dot: joined. Three short lines: 0 V of the board. Ratings: the parts list of docs/wiring.md.")
	y += 20
	panels := []struct {
		letter, title string
		draw          func(x, y int)
	}{
		{"R", "switched output: the valve's relays, with feedback", c.relayPair},
		{"C", "contact input", c.contactInput},
		{"T", "4-20 mA input", c.transmitter},
		{"T", "thermocouple: through a transmitter", c.thermocouple},
		{"E", "encoder", func(x, y int) { c.encoder(x, y, labelOf(pins, "ENCODER_A"), labelOf(pins, "ENCODER_B")) }},
		{"W", "set-point by pulse width", c.setpoint},
		{"D", "pulse for the outside watchdog", c.watchdog},
		{"P", "supplies and earth", c.supplies},
	}
	y += 20
	for i, p := range panels {
		px, py := 20+i%2*(panelWide+20), y+i/2*(panelHigh+16)
		c.rect(px, py, panelWide, panelHigh, 4)
		c.letter(px+20, py+20, p.letter)
		c.bold(px+38, py+25, 14, p.title)
		p.draw(px, py)
	}
	return y + (len(panels)+1)/2*(panelHigh+16) + 10
}

func labelOf(pins []Pin, name string) string {
	for _, p := range pins {
		if p.Name == name {
			return p.Label
		}
	}
	return "none"
}

// outputStage is a pin, its resistors and the end of the wire at x+300.
func (c *canvas) outputStage(x, y int, pin string) {
	c.text(x+20, y-8, small, "start", pin)
	c.line(x+20, y, x+90, y)
	c.box(x+90, y, 60, 22, "1 kohm")
	c.line(x+150, y, x+300, y)
	c.toGround(x+210, y, "10 kohm")
}

func (c *canvas) relayPair(x, y int) {
	c.outputStage(x, y+62, "board pin")
	c.box(x+300, y+62, 120, 44, "isolated driver,\nhigh = energised")
	c.line(x+420, y+62, x+450, y+62)
	c.box(x+450, y+62, 120, 44, "relay KF1, coil\nwith diode")
	c.line(x+570, y+62, x+590, y+62)
	c.text(x+595, y+66, small, "start", "24 V, F4")
	for i, s := range []string{"1", "2"} {
		wy := y + 160 + i*46
		c.text(x+20, wy+4, small, "start", "burner control")
		c.line(x+112, wy, x+150, wy)
		c.box(x+150, wy, 150, 40, "KF"+s+", force-guided\ncontact, own fuse F5")
		c.line(x+300, wy, x+330, wy)
		c.box(x+330, wy, 120, 40, "valve "+s+" coil to\n0 V, spring shut")
		c.dashed(x+450, wy, x+490, wy)
		c.box(x+490, wy, 100, 34, "closed-position\ncontact "+s)
	}
	c.line(x+540, y+143, x+540, y+122)
	c.text(x+546, y+134, small, "start", "24 V, F3")
	c.line(x+540, y+177, x+540, y+189)
	c.line(x+540, y+223, x+540, y+240)
	c.text(x+546, y+238, small, "start", "to circuit C")
	c.text(x+20, y+243, small, "start", "KF2 has its own pin on another port, its own driver and coil.")
	c.text(x+20, y+261, small, "start", "Both valves shut is FUEL_SHUT. Dashed: moved by the valve itself.")
}

func (c *canvas) contactInput(x, y int) {
	c.text(x+20, y+72, small, "start", "24 V, F3")
	c.line(x+20, y+80, x+90, y+80)
	c.box(x+90, y+80, 110, 40, "contact at the\nrig, own pair")
	c.line(x+200, y+80, x+230, y+80)
	c.box(x+230, y+80, 70, 22, "3.9 kohm")
	c.line(x+300, y+80, x+330, y+80)
	c.box(x+330, y+90, 110, 70, "optocoupler\n\nLED | switch")
	c.line(x+330, y+110, x+300, y+110)
	c.text(x+295, y+114, small, "end", "0 V of the 24 V")
	c.line(x+440, y+70, x+480, y+70)
	c.text(x+485, y+74, small, "start", "5 V of the board")
	c.line(x+440, y+110, x+560, y+110)
	c.toGround(x+490, y+110, "10 kohm")
	c.box(x+560, y+110, 60, 22, "1 kohm")
	c.line(x+620, y+110, x+655, y+110)
	c.text(x+655, y+100, small, "end", "pin")
	c.text(x+20, y+214, small, "start", "Closed: LED lit, pin 5 V. Open, broken, unpowered: pin 0 V. Alarm contacts open on alarm.")
	c.text(x+20, y+232, small, "start", "A shorted wire or coupler reads as closed. So the same switch has a second contact, in the")
	c.text(x+20, y+250, small, "start", "chain of section 2, which does not pass through the board.")
}

func (c *canvas) transmitter(x, y int) {
	c.text(x+20, y+54, small, "start", "24 V of the loops")
	c.line(x+20, y+80, x+60, y+80)
	c.box(x+60, y+80, 60, 26, "50 mA")
	c.line(x+120, y+80, x+150, y+80)
	c.box(x+150, y+85, 120, 44, "transmitter,\nisolated 4-20 mA")
	c.line(x+270, y+80, x+420, y+80)
	c.dashed(x+285, y+70, x+325, y+70)
	c.dashed(x+285, y+90, x+325, y+90)
	c.text(x+285, y+60, small, "start", "shielded pair")
	c.toGround(x+355, y+80, "220 ohm 0.1 %")
	c.box(x+420, y+80, 60, 22, "1 kohm")
	c.line(x+480, y+80, x+640, y+80)
	c.toGround(x+510, y+80, "100 nF")
	c.toGround(x+590, y+80, "clamp")
	c.text(x+640, y+72, small, "end", "pin")
	c.text(x+20, y+178, small, "start", "4 mA = 0.88 V = 180 counts, 20 mA = 4.40 V = 901. Below 172 or above 945 counts: broken.")
	c.text(x+20, y+196, small, "start", "Clamp: Schottky diodes to 5 V and to ground. 50 mA: fuse, for 24 V shorted onto the wire.")
	c.text(x+20, y+214, small, "start", "The 5 V supply is the reference: 1 % off is 1 % of the reading. Shield: earthed at the cabinet only.")
	c.text(x+20, y+232, small, "start", "No input of this kind is the only protection of anything.")
}

func (c *canvas) thermocouple(x, y int) {
	c.box(x+20, y+90, 90, 44, "junction,\ninsulated")
	c.line(x+110, y+80, x+330, y+80)
	c.line(x+110, y+100, x+330, y+100)
	c.text(x+125, y+68, small, "start", "thermocouple cable, own type,")
	c.text(x+125, y+120, small, "start", "right polarity, away from ignition")
	c.box(x+330, y+90, 150, 60, "transmitter, isolated,\nburn-out: low,\n3.6 mA or less")
	c.line(x+480, y+90, x+560, y+90)
	c.text(x+565, y+94, small, "start", "to circuit T")
	c.text(x+20, y+178, small, "start", "A broken junction must drive the loop out of range low (below 3.8 mA), where the board sees it.")
	c.text(x+20, y+196, small, "start", "Bridge and thermocouple chips that give a new value 10 to 80 times a second are too slow to protect:")
	c.text(x+20, y+214, small, "start", "never the only over-force, over-temperature or end protection. The over-force switch and the")
	c.text(x+20, y+232, small, "start", "over-travel switch act in the chain, without the board.")
}

func (c *canvas) encoder(x, y int, a, b string) {
	c.box(x+20, y+95, 110, 60, "incremental\nencoder with\nline driver")
	for i, s := range []string{"A, A inverted", "B, B inverted"} {
		c.line(x+130, y+82+i*26, x+300, y+82+i*26)
		c.text(x+215, y+76+i*26, small, "middle", s)
	}
	c.text(x+215, y+130, small, "middle", "shielded, twisted pairs")
	c.box(x+300, y+95, 120, 60, "line receiver,\nwatches its\nwires")
	for i, s := range []string{"A: pin " + a, "B: pin " + b} {
		c.line(x+420, y+82+i*26, x+450, y+82+i*26)
		c.box(x+450, y+82+i*26, 60, 20, "1 kohm")
		c.line(x+510, y+82+i*26, x+580, y+82+i*26)
		c.text(x+585, y+86+i*26, small, "start", s)
	}
	c.line(x+360, y+125, x+360, y+155)
	c.line(x+360, y+155, x+430, y+155)
	c.text(x+436, y+159, small, "start", "fault contact: in the press chain")
	c.text(x+20, y+196, small, "start", "The board sees both tracks change at once, but not one dead wire: travel then stands still.")
	c.text(x+20, y+214, small, "start", "A leads B while closing. 0.01 mm a count at 60 mm/s: 6 edges a millisecond.")
	c.text(x+20, y+232, small, "start", "Many boards pull pins 20 and 21 (SDA, SCL) up to 5 V by 10 kohm: open, they read high.")
}

func (c *canvas) setpoint(x, y int) {
	c.outputStage(x, y+80, "board pin")
	c.box(x+300, y+80, 150, 50, "isolated converter,\npulse width to\n0-10 V or 4-20 mA")
	c.dashed(x+460, y+70, x+510, y+70)
	c.dashed(x+460, y+90, x+510, y+90)
	c.line(x+450, y+80, x+530, y+80)
	c.box(x+530, y+80, 110, 50, "flow controller\nor drive")
	c.text(x+20, y+178, small, "start", "1 kHz, 16,000 steps. No pulse is 0: closed, standstill, no force. A pin stuck at 5 V is full scale:")
	c.text(x+20, y+196, small, "start", "so the full scale of the controller itself is set no higher than the rig may ever do, and the valves,")
	c.text(x+20, y+214, small, "start", "switches and relief valves in the chains stand in front of and behind it.")
	c.text(x+20, y+232, small, "start", "Use 4-20 mA for gas where the controller takes a lost current as shut.")
}

func (c *canvas) watchdog(x, y int) {
	c.outputStage(x, y+80, "PULSE")
	c.box(x+300, y+80, 60, 26, "100 nF")
	c.line(x+360, y+80, x+400, y+80)
	c.box(x+400, y+80, 120, 60, "window watchdog,\nown clock and\nsupply")
	c.line(x+520, y+80, x+550, y+80)
	c.box(x+550, y+80, 100, 50, "its relay:\nbus A, bus D,\nread back")
	c.text(x+20, y+178, small, "start", "A level change every millisecond. The capacitor passes edges only: a pin stuck at either level is silence.")
	c.text(x+20, y+196, small, "start", "It has to drop within 100 ms of the last edge, and of a pulse below 450 or above 550 Hz: a slow clock too.")
	c.text(x+20, y+214, small, "start", "The pulse stops in reset, in a failed self-test, after an overrun and while the board is written:")
	c.text(x+20, y+232, small, "start", "each of them opens bus A. This program cannot hold it by itself.")
}

func (c *canvas) supplies(x, y int) {
	c.box(x+20, y+90, 110, 100, "supply 1,\n24 V, F1,\n0 V earthed")
	for i, s := range []struct{ part, to string }{
		{"isolated converter 9 V, 0.5 A", "VIN; its 0 V is the board's"},
		{"isolated converter 24 V, 0.5 A", "24 V of the loops (T); 0 V the board's"},
		{"fuse F3", "contact inputs (C)"},
	} {
		wy := y + 58 + i*34
		c.line(x+130, wy, x+160, wy)
		c.box(x+160, wy, 200, 26, s.part)
		c.arrow(x+360, wy, x+420, wy)
		c.text(x+425, wy+4, small, "start", s.to)
	}
	c.box(x+20, y+172, 110, 44, "supply 2, 24 V,\n0 V earthed")
	c.line(x+130, y+172, x+160, y+172)
	c.box(x+160, y+172, 200, 26, "fuses F2, F4, F5")
	c.arrow(x+360, y+172, x+420, y+172)
	c.text(x+425, y+176, small, "start", "chains, valves, brake, coils (R)")
	c.text(x+20, y+221, small, "start", "Earthed 0 V: an earth fault blows a fuse and cannot bridge a contact (IEC 60204-1).")
	c.text(x+20, y+239, small, "start", "The board's 0 V: to protective earth at one point only; USB through an isolator.")
	c.text(x+20, y+257, small, "start", "Frame, moulds, burner, gas pipes, cabinet, door: bonded to protective earth, star, checked.")
}
