package telemetry

import (
	"strconv"
	"strings"
	"time"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// sample is the rig at one moment, for the channels topic.
type sample struct {
	wall  time.Time
	cycle uint32
	phase int16
	fresh bool // false: no snapshot came since the sample before
	snap  rig.Snapshot
}

// channels renders a sample. A channel that is not valid is null, never its
// last value: so is everything when no snapshot came, and so is the glass
// temperature while the thermometer's view is not free. late marks a sample
// taken before the connection it goes out on; lost counts dropped samples.
func (w words) channels(s *sample, late bool, lost uint64) message {
	b := make([]byte, 0, 1024)
	b = append(b, `{"rig":`...)
	b = strconv.AppendQuote(b, w.rig) // letters, digits, - and _: Go's quoting is JSON's
	b = append(b, `,"wall":"`...)
	b = s.wall.UTC().AppendFormat(b, wallForm)
	b = append(b, `","mcu_ms":`...)
	b = strconv.AppendUint(b, uint64(s.snap.StampMs), 10)
	b = append(b, `,"cycle":`...)
	b = strconv.AppendUint(b, uint64(s.cycle), 10)
	b = append(b, `,"phase_index":`...)
	b = strconv.AppendInt(b, int64(s.phase), 10)
	b = append(b, `,"late":`...)
	b = strconv.AppendBool(b, late)
	b = append(b, `,"lost":`...)
	b = strconv.AppendUint(b, lost, 10)
	b = append(b, `,"fresh":`...)
	b = strconv.AppendBool(b, s.fresh)
	for i := range rig.Analogs {
		b = appendChannel(b, s, uint8(i))
	}
	b = appendInputs(b, s)
	return message{topicChannels, append(b, '}')}
}

// channelKey is a channel's JSON key: its name and its unit, as in glass_C or
// fuel_flow_L_min.
func channelKey(c *rig.Channel) string {
	return c.Name + "_" + strings.ReplaceAll(c.Unit, "/", "_")
}

func appendChannel(b []byte, s *sample, ai uint8) []byte {
	c := &rig.Analogs[ai]
	b = append(b, ',', '"')
	b = append(b, channelKey(c)...)
	b = append(b, '"', ':')
	if !believed(s, ai) {
		return append(b, "null"...)
	}
	return strconv.AppendFloat(b, float64(c.Of(&s.snap))*c.Scale, 'f', decimals(c.Scale), 64)
}

func believed(s *sample, ai uint8) bool {
	if !s.fresh || !s.snap.OK(ai) {
		return false
	}
	return ai != warden.AiGlass || s.snap.Flags&rig.FlagViewFree != 0
}

// decimals shows one count of the channel and no more.
func decimals(scale float64) (n int) {
	for ; scale < 0.9999 && n < 6; n++ {
		scale *= 10
	}
	return n
}

// appendInputs lists the digital inputs that are on, or null.
func appendInputs(b []byte, s *sample) []byte {
	b = append(b, `,"inputs_on":`...)
	if !s.fresh {
		return append(b, "null"...)
	}
	b = append(b, '[')
	comma := false
	for _, in := range rig.Switches {
		if !s.snap.Has(in.Bit) {
			continue
		}
		if comma {
			b = append(b, ',')
		}
		b = append(append(append(b, '"'), in.Name...), '"')
		comma = true
	}
	return append(b, ']')
}
