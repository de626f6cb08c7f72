package pyrometer

import "math"

// Constants of Planck's law (CODATA 2018): c1 is 2 pi h c^2 in W.um4/m2, c2 is
// h c/k in um.K.
const (
	c1     = 3.741771852e8
	c2     = 14387.768775
	stefan = 5.670374419e-8 // W/(m2.K4)
	wien   = 2897.771955    // um.K, of the largest spectral power
)

// SpectralPower is what a black body gives off at a wavelength, W/(m2.um).
func SpectralPower(um, celsius float64) (float64, error) {
	if err := within(ofWavelength(um), ofCelsius("temperature in C", celsius)); err != nil {
		return 0, err
	}
	return spectral(um, celsius+zeroK), nil
}

func spectral(um, kelvin float64) float64 {
	return c1 / (um * um * um * um * um * math.Expm1(c2/(um*kelvin)))
}

// Peak is the wavelength at which a black body is brightest, um (Wien).
func Peak(celsius float64) (float64, error) {
	if err := within(ofCelsius("temperature in C", celsius)); err != nil {
		return 0, err
	}
	return wien / (celsius + zeroK), nil
}

// Fraction is the part of a black body's power below a wavelength, for the
// product of wavelength and absolute temperature in um.K.
func Fraction(umKelvin float64) (float64, error) {
	if err := within(span{"wavelength x temperature in um.K", umKelvin, 0, 1e6}); err != nil {
		return 0, err
	}
	return fraction(umKelvin), nil
}

// fraction is the series of Planck's integral, by partial integration.
func fraction(umKelvin float64) float64 {
	if umKelvin <= 0 {
		return 0
	}
	z := c2 / umKelvin
	sum := 0.0
	for n := 1.0; n*z < 40; n++ {
		sum += math.Exp(-n*z) / n * (z*z*z + 3*z*z/n + 6*z/(n*n) + 6/(n*n*n))
	}
	if z < 1e-9 {
		return 1
	}
	return min(1, 15/(math.Pi*math.Pi*math.Pi*math.Pi)*sum)
}

// bandPower is a black body's power between two wavelengths, W/m2.
func bandPower(low, high, kelvin float64) float64 {
	t2 := kelvin * kelvin
	return (fraction(high*kelvin) - fraction(low*kelvin)) * stefan * t2 * t2
}
