package pieces

import (
	"fmt"
	"strings"

	"pressrig/glass/seal"
	"pressrig/units"
	"pressrig/yamlfile"
)

// Limits of the files, each far above what a stem needs.
const (
	mostName  = 32
	mostNote  = 160
	mostSteps = 8
	mostPins  = 36
	mostMM    = 200.0
	leastMM   = 0.01
	mostDraft = 30.0 // deg; a negative one is told as undercut
)

// nodes are the values of a file by path, so that a fault of the whole is told
// at the value that it is about.
type nodes map[string]yamlfile.Node

// at is the value under path, or the nearest that the file has above it.
func (n nodes) at(path string) yamlfile.Node {
	for {
		if v, ok := n[path]; ok && v.Present() {
			return v
		}
		cut := strings.LastIndexByte(path, '.')
		if cut < 0 {
			return n[""]
		}
		path = path[:cut]
	}
}

// form reads one level of a file.
type form struct {
	m    yamlfile.Map
	path string
	all  nodes
}

func (f form) need(key, right string) yamlfile.Node {
	n := f.m.Need(key, right)
	f.all[f.path+key] = n
	return n
}

func (f form) get(key string) yamlfile.Node {
	n := f.m.Get(key)
	f.all[f.path+key] = n
	return n
}

// mm reads a length that must be there.
func (f form) mm(key, right string, least, most float64) float64 {
	return f.need(key, right).Quantity(units.Length, least, most)
}

// mayMM reads a length that may be left out.
func (f form) mayMM(key string, least, most float64) float64 {
	return f.get(key).Quantity(units.Length, least, most)
}

func (f form) head(key string) (name, note string) {
	name = f.need(key, "name the "+key+" as its file is called").Ident(mostName)
	return name, f.get("note").Text(mostNote)
}

// ParsePiece reads and checks a piece. The file name is used in messages only.
// An error is a yamlfile.Problems with every fault; the piece is nil then.
func ParsePiece(file string, text []byte) (*Piece, error) {
	y := yamlfile.Read(file, text)
	all, p := nodes{"": y.Root()}, &Piece{}
	p.read(form{y.Root().Map("piece", "note", "glass", "draft", "edge", "flash", "steps", "pins", "beads",
		"tubulation", "tolerance"), "", all})
	if err := y.Err(); err != nil {
		return nil, err
	}
	for _, f := range p.check() {
		if at := all.at(f.at); f.doubt {
			at.Warn(f.what, f.right)
		} else {
			at.Fault(f.what, f.right)
		}
	}
	if err := y.Err(); err != nil {
		return nil, err
	}
	figures, err := p.measure()
	if err != nil { // no checked piece comes here; an error is better than a wrong figure
		y.Root().Fault(err.Error(), "draw a piece of usual size")
		return nil, y.Err()
	}
	p.Figures, p.Warnings = figures, y.Warnings()
	return p, nil
}

func (p *Piece) read(f form) {
	p.Name, p.Note = f.head("piece")
	p.Glass = f.need("glass", "name the glass").Ident(mostName)
	p.DraftDeg = f.need("draft", "write the draft of every face, 5 deg is usual").
		Quantity(units.Angle, -mostDraft, mostDraft)
	p.EdgeMM = f.mm("edge", "write the largest radius wanted at the edges", leastMM, mostMM)
	p.FlashShare = f.need("flash", "write how much more glass than the piece has, 1 to 3 %").
		Quantity(units.Share, 0, 50) / 100
	for i, n := range f.need("steps", "list discs and rims from the datum upwards").List(mostSteps) {
		f.all[fmt.Sprintf("steps.%d", i)] = n
		p.Steps = append(p.Steps, readStep(form{n.Map("half", "radius", "height", "bore"),
			fmt.Sprintf("steps.%d.", i), f.all}))
	}
	if n := f.all["steps"]; n.Present() && len(p.Steps) == 0 {
		n.Fault("no steps", "list at least one disc")
	}
	if n := f.get("pins"); n.Present() {
		p.Pins = readPins(form{n.Map("number", "places", "circle", "diameter", "alloy", "below", "above"), "pins.", f.all})
	}
	if n := f.get("beads"); n.Present() {
		p.Beads = readBeads(form{n.Map("diameter", "depth", "sides"), "beads.", f.all})
		if !f.all["pins"].Present() {
			n.Fault("beads without pins", "describe the pins, or remove beads")
		}
	}
	if n := f.get("tubulation"); n.Present() {
		t := form{n.Map("outside", "bore", "height"), "tubulation.", f.all}
		outside, bore := t.outsideAndBore()
		p.Tubulation = Tubulation{outside, bore, t.mm("height", "write how far it stands out", 0.1, mostMM)}
	}
	n := f.need("tolerance", "write what the piece is inspected by")
	t := form{n.Map("thickness", "outside", "bead_height"), "tolerance.", f.all}
	p.Tolerance = Tolerance{
		ThicknessMM: t.mm("thickness", "write the tolerance, +-0.15 mm is usual", 1e-3, 5),
		OutsideMM:   t.mm("outside", "write the tolerance, +-0.1 mm is usual", 1e-3, 5),
	}
	if p.Beads.DiameterMM > 0 {
		p.Tolerance.BeadHeightMM = t.mm("bead_height", "write the tolerance, +-0.3 mm is usual", 1e-3, 5)
	} else if h := t.get("bead_height"); h.Present() {
		h.Fault("a tolerance of beads that the piece has not", "remove it, or describe the beads")
	}
}

func (f form) outsideAndBore() (outside, bore float64) {
	outside = f.mm("outside", "write the outer diameter", 0.5, mostMM)
	bore = f.mm("bore", "write the inner diameter", 0.1, mostMM)
	if outside > 0 && bore >= outside {
		f.get("bore").Fault(fmt.Sprintf("a bore of %g mm is not less than the outside of %g mm", bore, outside),
			"write the inner diameter, which leaves a wall")
	}
	return outside, bore
}

func readStep(f form) Step {
	return Step{
		Upper:    f.need("half", "write which half forms it, lower or upper").Choice("lower", "upper") == "upper",
		RadiusMM: f.mm("radius", "write the radius at the narrow end", 0.5, mostMM),
		HeightMM: f.mm("height", "write the height", 0.1, mostMM),
		BoreMM:   f.mayMM("bore", 0.1, mostMM),
	}
}

func readPins(f form) Pins {
	p := Pins{
		Number:     f.need("number", "write how many pins there are; leave pins out of a pinless piece").Count(1, mostPins),
		CircleMM:   f.mm("circle", "write the diameter of the pin circle, 0 mm for one pin on the axis", 0, mostMM),
		DiameterMM: f.mm("diameter", "write the diameter of a pin", 0.05, 20),
		Alloy:      f.need("alloy", "name the metal").Choice(seal.Names()...),
		BelowMM:    f.mm("below", "write how far a pin stands out of the datum", 0, mostMM),
		AboveMM:    f.mm("above", "write how far a pin stands out of the upper face", 0, mostMM),
	}
	p.Places = p.Number
	if n := f.get("places"); n.Present() {
		p.Places = n.Count(max(p.Number, 1), mostPins)
	}
	if n := f.get("circle"); p.Number > 1 && p.CircleMM == 0 && n.Word() != "" {
		n.Fault(fmt.Sprintf("%d pins on a circle of nothing", p.Number), "write the diameter of the pin circle")
	}
	return p
}

func readBeads(f form) Beads {
	sides := f.need("sides", "write on which face the beads stand").Choice("lower", "upper", "both")
	return Beads{
		DiameterMM: f.mm("diameter", "write the diameter of the bead hole at its bottom", 0.1, mostMM),
		DepthMM:    f.mm("depth", "write the depth of the bead hole", 0.1, mostMM),
		Below:      sides == "lower" || sides == "both",
		Above:      sides == "upper" || sides == "both",
	}
}
