package flame

import "math"

// element numbers index atoms of species and mixtures.
const (
	atomC = iota
	atomH
	atomO
	atomN
	elements
)

// species is a gas of the products with the NASA polynomials of its enthalpy
// and entropy over R: the first row holds below 1,000 K, the second above.
type species struct {
	name  string
	atoms [elements]float64
	poly  [2][7]float64
}

const (
	polyLeastK  = 300.0
	polySwitchK = 1000.0
	polyMostK   = 3500.0
)

// products are the gases that matter in a flame at one atmosphere. The
// coefficients are those of GRI-Mech 3.0 (30 July 1999), its thermodynamic
// file; OH, O2 and most others go back to TPIS and Russell tables named there.
var products = [...]species{
	{"CO2", [elements]float64{atomC: 1, atomO: 2}, [2][7]float64{
		{2.35677352, 8.98459677e-03, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13, -4.83719697e+04, 9.90105222},
		{3.85746029, 4.41437026e-03, -2.21481404e-06, 5.23490188e-10, -4.72084164e-14, -4.8759166e+04, 2.27163806}}},
	{"CO", [elements]float64{atomC: 1, atomO: 1}, [2][7]float64{
		{3.57953347, -6.1035368e-04, 1.01681433e-06, 9.07005884e-10, -9.04424499e-13, -1.4344086e+04, 3.50840928},
		{2.71518561, 2.06252743e-03, -9.98825771e-07, 2.30053008e-10, -2.03647716e-14, -1.41518724e+04, 7.81868772}}},
	{"H2O", [elements]float64{atomH: 2, atomO: 1}, [2][7]float64{
		{4.19864056, -2.0364341e-03, 6.52040211e-06, -5.48797062e-09, 1.77197817e-12, -3.02937267e+04, -0.849032208},
		{3.03399249, 2.17691804e-03, -1.64072518e-07, -9.7041987e-11, 1.68200992e-14, -3.00042971e+04, 4.9667701}}},
	{"H2", [elements]float64{atomH: 2}, [2][7]float64{
		{2.34433112, 7.98052075e-03, -1.9478151e-05, 2.01572094e-08, -7.37611761e-12, -917.935173, 0.683010238},
		{3.3372792, -4.94024731e-05, 4.99456778e-07, -1.79566394e-10, 2.00255376e-14, -950.158922, -3.20502331}}},
	{"O2", [elements]float64{atomO: 2}, [2][7]float64{
		{3.78245636, -2.99673416e-03, 9.84730201e-06, -9.68129509e-09, 3.24372837e-12, -1063.94356, 3.65767573},
		{3.28253784, 1.48308754e-03, -7.57966669e-07, 2.09470555e-10, -2.16717794e-14, -1088.45772, 5.45323129}}},
	{"OH", [elements]float64{atomH: 1, atomO: 1}, [2][7]float64{
		{3.99201543, -2.40131752e-03, 4.61793841e-06, -3.88113333e-09, 1.3641147e-12, 3615.08056, -0.103925458},
		{3.09288767, 5.48429716e-04, 1.26505228e-07, -8.79461556e-11, 1.17412376e-14, 3858.657, 4.4766961}}},
	{"H", [elements]float64{atomH: 1}, [2][7]float64{
		{2.5, 7.05332819e-13, -1.99591964e-15, 2.30081632e-18, -9.27732332e-22, 2.54736599e+04, -0.446682853},
		{2.50000001, -2.30842973e-11, 1.61561948e-14, -4.73515235e-18, 4.98197357e-22, 2.54736599e+04, -0.446682914}}},
	{"O", [elements]float64{atomO: 1}, [2][7]float64{
		{3.1682671, -3.27931884e-03, 6.64306396e-06, -6.12806624e-09, 2.11265971e-12, 2.91222592e+04, 2.05193346},
		{2.56942078, -8.59741137e-05, 4.19484589e-08, -1.00177799e-11, 1.22833691e-15, 2.92175791e+04, 4.78433864}}},
	{"N2", [elements]float64{atomN: 2}, [2][7]float64{
		{3.298677, 1.4082404e-03, -3.963222e-06, 5.641515e-09, -2.444854e-12, -1020.8999, 3.950372},
		{2.92664, 1.4879768e-03, -5.68476e-07, 1.0097038e-10, -6.753351e-15, -922.7977, 5.980528}}},
	{"NO", [elements]float64{atomN: 1, atomO: 1}, [2][7]float64{
		{4.2184763, -4.638976e-03, 1.1041022e-05, -9.3361354e-09, 2.803577e-12, 9844.623, 2.2808464},
		{3.2606056, 1.1911043e-03, -4.2917048e-07, 6.9457669e-11, -4.0336099e-15, 9920.9746, 6.3693027}}},
}

const (
	gasCO2 = iota
	gasCO
	gasH2O
	gasH2
	gasO2
	gasOH
	gasH
	gasO
	gasN2
	gasNO
	gases
)

func (s *species) row(kelvin float64) *[7]float64 {
	if kelvin < polySwitchK {
		return &s.poly[0]
	}
	return &s.poly[1]
}

// enthalpyKJ is the molar enthalpy, with heat of formation, in kJ/mol.
func (s *species) enthalpyKJ(t float64) float64 {
	a := s.row(t)
	return gasConstant / 1000 * (t*(a[0]+t*(a[1]/2+t*(a[2]/3+t*(a[3]/4+t*a[4]/5)))) + a[5])
}

// potential is the standard chemical potential over RT at one atmosphere.
func (s *species) potential(t float64) float64 {
	a := s.row(t)
	enthalpy := a[0] + t*(a[1]/2+t*(a[2]/3+t*(a[3]/4+t*a[4]/5))) + a[5]/t
	entropy := a[0]*math.Log(t) + t*(a[1]+t*(a[2]/2+t*(a[3]/3+t*a[4]/4))) + a[6]
	return enthalpy - entropy
}
