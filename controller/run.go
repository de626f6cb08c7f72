package controller

// A run is a series of cycles between one light-up and one light-off. Between
// two pieces the flame stays lit: burner clear, soft, fuel alone, under its
// lease, for the profile's longest. The flame itself is in the warden's
// snapshot, so a machine made anew by Start just goes on asking for it.

// mayPark: a soft flame may burn on while hands are near. The last piece of a
// run takes it down once it is pressed.
func (m *Machine) mayPark() bool {
	last := m.job.Last && m.contacted
	return m.lit() && m.cfg.doorOpenLit && m.cfg.parkMs > 0 && !last && m.softFuel() > 0
}

// keepParked goes on asking for a flame that is lit, and never for another.
func (m *Machine) keepParked() {
	if m.guarded && m.lit() && m.softFuel() > 0 {
		m.want.flame, m.want.fuelMl = true, m.softFuel()
	}
}

// park begins the wait for the next piece.
func (m *Machine) park() {
	m.set = want{}
	m.parked, m.parkedAt = false, m.now
	if m.guarded && !m.job.Last && m.mayPark() {
		m.parked = true
		m.prompt.openSilently("flame parked: yes shuts it")
	}
}

// actParked keeps the parked flame until the next Start, its longest, a lock,
// or the operator's yes.
func (m *Machine) actParked() {
	if !m.parked {
		return
	}
	if !m.lit() || m.since(m.parkedAt) >= m.cfg.parkMs || m.see.snap.Lock != 0 ||
		m.see.session == 0 {
		m.unpark()
		return
	}
	m.keepParked()
}

func (m *Machine) unpark() {
	m.parked = false
	m.prompt.close()
}
