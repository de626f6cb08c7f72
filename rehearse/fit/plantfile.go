package fit

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"

	"pressrig/glass/forming"
)

// Saved is a fitted plant as it is kept in a file.
type Saved struct {
	Name   string   `json:"plant"`
	Fitted string   `json:"fitted"` // date
	Rig    string   `json:"rig"`
	Glass  string   `json:"glass"`
	Cycles []uint32 `json:"cycles"`
	Plant
}

// maxSaved is the largest plant file, bytes.
const maxSaved = 64 << 10

// Encode is the file's text.
func (s *Saved) Encode() ([]byte, error) {
	text, err := json.MarshalIndent(s, "", "  ")
	return append(text, '\n'), err
}

// Decode reads a plant file. Whatever is not a plant as Encode writes it is
// refused.
func Decode(file string, text []byte) (*Saved, error) {
	if len(text) > maxSaved {
		return nil, fmt.Errorf("%s: %d bytes; a plant file has at most %d", file, len(text), maxSaved)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	s := &Saved{}
	if err := d.Decode(s); err != nil {
		return nil, fmt.Errorf("%s: %w; write it with pressrig fit --save", file, err)
	}
	if d.More() {
		return nil, fmt.Errorf("%s: more than one plant; write it with pressrig fit --save", file)
	}
	if len(s.Numbers) != lag {
		return nil, fmt.Errorf("%s: %d numbers; a plant has %d: %v", file, len(s.Numbers), lag, names[:lag])
	}
	for i, n := range s.Numbers {
		if n.Name != names[i] {
			return nil, fmt.Errorf("%s: number %d is %q; %q stands there", file, i+1, n.Name, names[i])
		}
		if math.IsNaN(n.Value) || n.Value < least[i] || n.Value > largest[i] {
			return nil, fmt.Errorf("%s: %s %v is out of range; from %v to %v", file, n.Name, n.Value, least[i], largest[i])
		}
	}
	s.Tune = forming.Tune{Flame: s.Numbers[flame].Value, Loss: s.Numbers[loss].Value,
		Contact: s.Numbers[contact].Value, LogPaS: s.Numbers[stiff].Value}
	return s, nil
}
