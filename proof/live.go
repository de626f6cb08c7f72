package proof

import (
	"fmt"

	"pressrig/rig"
	"pressrig/units"
)

// live is the awaited signal as it reads now, in words.
func (j *Judge) live(s *stage) string {
	if !j.have {
		return "no word from the rig"
	}
	text := ""
	for _, sw := range rig.Switches {
		if s.bit == sw.Bit {
			text = fmt.Sprintf("%s: %s", sw.Label, map[bool]string{true: "on", false: "off"}[j.snap.Has(sw.Bit)])
		}
	}
	if s.ai < 0 || int(s.ai) >= len(rig.Analogs) || !j.snap.OK(uint8(s.ai)) {
		return text
	}
	c := &rig.Analogs[s.ai]
	v := units.Format(float64(int(1000*j.profile.Calibrated(uint8(s.ai), j.snap.Analog[s.ai])))/1000, c.Dim)
	if text != "" {
		text += ", "
	}
	return text + c.Label + " " + v
}
