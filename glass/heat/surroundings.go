package heat

// Face gathers everything that acts on one face of a blank. Its zero value
// insulates; each call adds to it.
type Face struct {
	constant float64 // W/m2 into the glass, at 0 C of its surface
	slope    float64 // W/(m2.K) less of it for each kelvin of the surface
	emits    float64 // emissivities
	receives float64 // emissivity x surrounding temperature^4
}

// Flux adds a fixed heat flux into the glass, W/m2.
func (f *Face) Flux(wattPerM2 float64) { f.constant += wattPerM2 }

// Exchange adds heat transfer with something at a temperature: gas that flows
// along, a flame, or a body that touches.
func (f *Face) Exchange(wattPerM2K, celsius float64) {
	f.constant += wattPerM2K * celsius
	f.slope += wattPerM2K
}

// Radiate adds radiation to surroundings at a temperature.
func (f *Face) Radiate(emissivity, celsius float64) {
	f.emits += emissivity
	f.receives += emissivity * fourth(celsius)
}

// Into is the heat flux into the glass at a surface temperature, W/m2.
func (f *Face) Into(surfaceC float64) float64 {
	return f.constant - f.slope*surfaceC + Stefan*(f.receives-f.emits*fourth(surfaceC))
}

// line is Into around a surface temperature: a + b T.
func (f *Face) line(surfaceC float64) (a, b float64) {
	t := surfaceC + zeroK
	cube := Stefan * f.emits * t * t * t
	b = -f.slope - 4*cube
	return f.constant + Stefan*f.receives - cube*t + 4*cube*surfaceC, b
}

// Surroundings are what acts on a blank: its outside, its bore, its upper and
// its lower face.
type Surroundings struct {
	Outside, Bore, Top, Foot Face
}

// BoreEmissivity is how strongly the wall of a bore radiates to the room through
// its open upper end, over its own area: a grey enclosure with a black opening
// (Incropera, section 13.3). The lower end is closed by the mould, which is
// taken to throw back what it gets.
func BoreEmissivity(emissivity, radius, height float64) (float64, error) {
	if err := within(span{"emissivity", emissivity, 0.01, 1}, ofLength("bore radius in m", radius),
		ofLength("height in m", height)); err != nil {
		return 0, err
	}
	wallOverMouth := 2 * height / radius
	return 1 / ((1-emissivity)/emissivity + wallOverMouth), nil
}

// Room is the air around a blank.
type Room struct {
	Celsius    float64
	Film       float64 // natural convection, W/(m2.K); about 8 [common practice, no source]
	Emissivity float64 // of the glass, long wave; 0.84 to 0.89 published for soda-lime
}

func (r Room) check() error {
	return within(ofCelsius("room in C", r.Celsius), span{"room's film in W/(m2.K)", r.Film, 0, 1e4},
		span{"emissivity", r.Emissivity, 0.01, 1})
}

// Open lets a blank lose heat to the room on its outside, its top and through
// its bore.
func (s *Surroundings) Open(shape Shape, r Room) error {
	if err := r.check(); err != nil {
		return err
	}
	if err := shape.check(); err != nil {
		return err
	}
	for _, f := range []*Face{&s.Outside, &s.Top} {
		f.Radiate(r.Emissivity, r.Celsius)
		f.Exchange(r.Film, r.Celsius)
	}
	if shape.Inner > 0 {
		e, err := BoreEmissivity(r.Emissivity, shape.Inner, shape.Height)
		if err != nil {
			return err
		}
		s.Bore.Radiate(e, r.Celsius)
	}
	return nil
}

// Burner is a flame at a blank. Share is what a heating test fits: the part of
// the gas's power that a blank at 20 C takes; it falls as the glass nears the
// flame's own temperature.
type Burner struct {
	Share float64 // 0 to 1; about 0.1 [a guess: fit it to a heating test]
	Flame float64 // effective temperature, C
	Side  float64 // part of it that meets the outside
	Bore  float64 // part of it that goes into the bore; the rest meets the top
}

const coldC = 20.0

// Conductance is the flame's heat to the blank for each kelvin between them, W/K.
func (b Burner) Conductance(powerW float64) (float64, error) {
	if err := within(span{"share of the gas's power", b.Share, 0, 1},
		span{"flame in C", b.Flame, 200, 4000}, span{"part onto the outside", b.Side, 0, 1},
		span{"part into the bore", b.Bore, 0, 1 - b.Side}, span{"power in W", powerW, 0, 1e6}); err != nil {
		return 0, err
	}
	return b.Share * powerW / (b.Flame - coldC), nil
}

// OntoOutside is the flux onto the outside of a blank at a temperature of its surface,
// W/m2, negative where the glass is hotter than the flame.
func (b Burner) OntoOutside(shape Shape, powerW, surfaceC float64) (float64, error) {
	g, err := b.Conductance(powerW)
	if err != nil {
		return 0, err
	}
	if err := shape.check(); err != nil {
		return 0, err
	}
	if err := within(ofCelsius("surface in C", surfaceC)); err != nil {
		return 0, err
	}
	return g * b.Side * (b.Flame - surfaceC) / shape.outside(), nil
}

// PowerFor is the gas's power that brings a flux onto the outside of a blank at
// 20 C, W: how soft a fire must be while the glass is cold.
func (b Burner) PowerFor(shape Shape, flux float64) (float64, error) {
	one, err := b.OntoOutside(shape, 1, coldC)
	if err != nil {
		return 0, err
	}
	if err := within(ofFlux(flux), span{"flux of a watt in 1/m2", one, 1e-6, 1e9}); err != nil {
		return 0, err
	}
	return flux / one, nil
}

// GapFilm is the heat transfer through a gas-filled gap between glass and
// mould, W/(m2.K). The gap grows from about 0.25 um at first contact to about
// 40 um after a second ("Heat transfer at the glass-mold interface", TIB
// Hannover); in the narrow gap molecules fly free and the formula gives too
// much.
func GapFilm(gasConductivity, gap float64) (float64, error) {
	if err := within(span{"conductivity of the gas in W/(m.K)", gasConductivity, 1e-3, 1},
		span{"gap in m", gap, 1e-7, 1e-2}); err != nil {
		return 0, err
	}
	return gasConductivity / gap, nil
}

// Heat brings the flame to a blank.
func (s *Surroundings) Heat(shape Shape, b Burner, powerW float64) error {
	g, err := b.Conductance(powerW)
	if err != nil {
		return err
	}
	if err := shape.check(); err != nil {
		return err
	}
	top := 1 - b.Side - b.Bore
	switch {
	case shape.Inner > 0:
		s.Bore.Exchange(g*b.Bore/shape.bore(), b.Flame)
	default: // what would go into a bore meets the top of a disc
		top += b.Bore
	}
	s.Outside.Exchange(g*b.Side/shape.outside(), b.Flame)
	s.Top.Exchange(g*top/shape.end(), b.Flame)
	return nil
}

// Plateau is the temperature at which an even blank takes from its surroundings
// as much as it gives, C: what a flame reaches in the end.
func (s *Surroundings) Plateau(shape Shape) (float64, error) {
	if err := shape.check(); err != nil {
		return 0, err
	}
	gives := func(c float64) float64 {
		return -(shape.outside()*s.Outside.Into(c) + shape.bore()*s.Bore.Into(c) +
			shape.end()*(s.Top.Into(c)+s.Foot.Into(c)))
	}
	if !(gives(-zeroK) < 0 && gives(5000) > 0) {
		return 0, within(span{"balance in W between 0 K and 5,000 C", gives(5000), 1e-9, 1e12})
	}
	return halve(-zeroK, 5000, gives), nil
}
