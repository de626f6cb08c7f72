package pieces

import (
	"fmt"
	"math"

	"pressrig/glass/blank"
	"pressrig/glass/mould"
	"pressrig/units"
	"pressrig/yamlfile"
)

// Vents are so deep: shallower ones clog, deeper ones fill with glass [common
// practice, no source].
const leastVentMM, mostVentMM = 0.03, 0.05

// mostPolishUM is the roughness Ra above which marks show [common practice, no
// source].
const mostPolishUM = 0.4

// ParseMould reads and checks a mould, as ParsePiece does a piece.
func ParseMould(file string, text []byte) (*Mould, error) {
	y := yamlfile.Read(file, text)
	m := &Mould{}
	m.read(form{y.Root().Map("mould", "note", "piece", "material", "lower", "upper", "roughness", "coating",
		"vents", "gap", "pin_gap", "takes", "groove"), "", nodes{"": y.Root()}})
	if err := y.Err(); err != nil {
		return nil, err
	}
	m.Warnings = y.Warnings()
	return m, nil
}

func (m *Mould) read(f form) {
	m.Name, m.Note = f.head("mould")
	m.Piece = f.need("piece", "name the piece that it is cut for").Ident(mostName)
	m.Material = f.need("material", "write what it is made of").Choice(mould.Names()...)
	m.Lower = readHalf(f.need("lower", "describe the lower half"), m.Material, f.all)
	m.Upper = readHalf(f.need("upper", "describe the upper half"), m.Material, f.all)
	m.RoughnessUM = f.need("roughness", "write the roughness Ra of the faces, 0.1 to 0.4 um is usual").
		Quantity(units.Roughness, 0.005, 50)
	m.Carbon = f.need("coating", "write carbon or none").Choice("carbon", "none") == "carbon"
	m.GapMM = f.mm("gap", "write the gap between the closed halves, where flash begins", 0, 2)
	m.PinGapMM = f.mayMM("pin_gap", 0.005, 2)
	m.TakesMM = f.mm("takes", "write the tallest blank that stands in the open mould", 0.5, 500)
	if n := f.get("vents"); n.Present() {
		v := form{n.Map("number", "depth", "width"), "vents.", f.all}
		m.Vents = Vents{
			Number:  v.need("number", "write how many there are").Count(1, 64),
			DepthMM: v.mm("depth", "write how deep they are, 0.03 to 0.05 mm is usual", 0.001, 2),
			WidthMM: v.mm("width", "write how wide they are", 0.05, 50),
		}
		if d := m.Vents.DepthMM; d > 0 && (d < leastVentMM || d > mostVentMM) {
			v.get("depth").Warn(fmt.Sprintf("vents are %g mm deep", d),
				fmt.Sprintf("%g to %g mm is usual: shallower ones clog, deeper ones fill with glass", leastVentMM, mostVentMM))
		}
	}
	if n := f.get("groove"); n.Present() {
		g := form{n.Map("width", "depth"), "groove.", f.all}
		m.Groove = Groove{g.mm("width", "write how wide it is", 0.05, 50), g.mm("depth", "write how deep it is", 0.01, 20)}
	}
	if m.RoughnessUM > mostPolishUM {
		f.get("roughness").Warn(fmt.Sprintf("faces of Ra %g um print their marks", m.RoughnessUM),
			"polish to Ra 0.1 to 0.4 um along the draw")
	}
}

// readHalf refuses a half that weighs more than a solid block of its size.
func readHalf(n yamlfile.Node, material string, all nodes) Half {
	f := form{n.Map("name", "mass", "outside", "height"), n.Name() + ".", all}
	h := Half{
		Name:      f.need("name", "name the half as the recipe will").Ident(mostName),
		MassKg:    f.need("mass", "weigh it").Quantity(units.Mass, 0.01, 100),
		OutsideMM: f.mm("outside", "write the outer diameter of the block", 5, 1000),
		HeightMM:  f.mm("height", "write the height of the block", 2, 1000),
	}
	of, err := mould.Named(material)
	if err != nil || h.MassKg == 0 {
		return h // told already
	}
	solid := math.Pi / 4 * h.OutsideMM * h.OutsideMM * h.HeightMM * 1e-9 * of.Density.Value
	if solid > 0 && h.MassKg > 1.05*solid {
		f.get("mass").Fault(fmt.Sprintf("a half of %g kg is heavier than a solid block of %s of its size, %.3g kg",
			h.MassKg, of.Label, solid), "weigh it again, or correct outside and height")
	}
	return h
}

// ParseTube reads and checks a tube, as ParsePiece does a piece.
func ParseTube(file string, text []byte) (*Tube, error) {
	y := yamlfile.Read(file, text)
	all, t := nodes{"": y.Root()}, &Tube{}
	t.read(form{y.Root().Map("tube", "note", "glass", "outside", "bore", "outside_tolerance", "bore_tolerance",
		"wall_tolerance", "length", "held", "cut"), "", all})
	if y.Err() == nil {
		if _, _, _, err := t.Sheet().AreaMM2(); err != nil {
			all.at("bore").Fault(err.Error(), "write what the maker's data sheet says")
		}
	}
	if err := y.Err(); err != nil {
		return nil, err
	}
	t.Warnings = y.Warnings()
	return t, nil
}

func (t *Tube) read(f form) {
	t.Name, t.Note = f.head("tube")
	t.Glass = f.need("glass", "name the glass").Ident(mostName)
	t.OutsideMM, t.BoreMM = f.outsideAndBore()
	t.OutsideTolMM = f.mm("outside_tolerance", "write the tolerance of the outside", 0, 10)
	t.BoreTolMM = f.mayMM("bore_tolerance", 1e-3, 10)
	t.WallTolMM = f.mayMM("wall_tolerance", 1e-3, 10)
	switch bore, wall := f.get("bore_tolerance"), f.get("wall_tolerance"); {
	case bore.Present() && wall.Present():
		wall.Fault("both bore_tolerance and wall_tolerance", "a data sheet binds one of them; remove the other")
	case !bore.Present() && !wall.Present() && f.m.Node().Present():
		f.m.Node().Fault("neither bore_tolerance nor wall_tolerance", "write the one that the data sheet binds")
	}
	t.LengthMM = f.mm("length", "write how long a tube is at hand", 1, 10000)
	t.HeldMM = f.mm("held", "write how much of it the saw or chuck keeps", 0, 10000)
	c := form{f.need("cut", "describe the cut").Map("least", "greatest", "tolerance", "loss"), "cut.", f.all}
	t.LeastMM = c.mm("least", "write the shortest blank that can be cut", 0.1, 10000)
	t.GreatestMM = c.mm("greatest", "write the longest blank that can be cut", 0.1, 10000)
	t.SawTolMM = c.mm("tolerance", "write how exactly the saw cuts", 0, 10)
	t.LossMM = c.mm("loss", "write how much glass a cut takes", 0, 20)
	if t.GreatestMM > 0 && t.LeastMM >= t.GreatestMM {
		c.get("least").Fault(fmt.Sprintf("the shortest cut of %g mm is not below the longest of %g mm", t.LeastMM, t.GreatestMM),
			"write the shorter one as least")
	}
	if t.LengthMM > 0 && t.HeldMM+t.LeastMM > t.LengthMM {
		f.get("length").Fault(fmt.Sprintf("a tube of %g mm gives no blank of %g mm when %g mm are held", t.LengthMM,
			t.LeastMM, t.HeldMM), "take a longer tube, or hold less of it")
	}
}

// Sheet is the tube as package blank computes with it.
func (t *Tube) Sheet() blank.Tube {
	return blank.Tube{OutsideMM: t.OutsideMM, BoreMM: t.BoreMM, OutsideTolMM: t.OutsideTolMM, BoreTolMM: t.BoreTolMM,
		WallTolMM: t.WallTolMM}
}
