package heat

import (
	"fmt"
	"math"
)

// Curve is a property as a function of temperature, tabulated so that the
// solver reads it without a call. Between the points it is straight, beyond
// its ends it keeps its last value.
type Curve struct {
	value []float64
	sum   []float64 // integral from curveLeastC
}

const (
	curveLeastC = -100.0
	curveMostC  = 1600.0
	curveStepC  = 5.0
	curvePoints = int((curveMostC-curveLeastC)/curveStepC) + 1
)

// NewCurve tabulates f, which takes degrees Celsius, from -100 to 1,600 C. All
// values must be positive.
func NewCurve(f func(celsius float64) float64) (Curve, error) {
	c := Curve{make([]float64, curvePoints), make([]float64, curvePoints)}
	for i := range c.value {
		at := curveLeastC + float64(i)*curveStepC
		v := f(at)
		if !(v > 0) || math.IsInf(v, 0) {
			return Curve{}, fmt.Errorf("property is %g at %g C; it must be positive from %g to %g C",
				v, at, curveLeastC, curveMostC)
		}
		c.value[i] = v
		if i > 0 {
			c.sum[i] = c.sum[i-1] + (c.value[i-1]+v)/2*curveStepC
		}
	}
	return c, nil
}

// Constant is a curve of one value.
func Constant(v float64) (Curve, error) {
	return NewCurve(func(float64) float64 { return v })
}

// At is the property at a temperature.
func (c *Curve) At(celsius float64) float64 {
	x := (celsius - curveLeastC) * (1 / curveStepC)
	if !(x > 0) {
		return c.value[0]
	}
	if x >= float64(curvePoints-1) {
		return c.value[curvePoints-1]
	}
	i := int(x)
	return c.value[i] + (x-float64(i))*(c.value[i+1]-c.value[i])
}

// integral is the exact integral of At from curveLeastC.
func (c *Curve) integral(celsius float64) float64 {
	x := (celsius - curveLeastC) / curveStepC
	last := curvePoints - 1
	switch {
	case !(x > 0):
		return x * curveStepC * c.value[0]
	case x >= float64(last):
		return c.sum[last] + (x-float64(last))*curveStepC*c.value[last]
	}
	i := int(x)
	part := x - float64(i)
	return c.sum[i] + curveStepC*part*(c.value[i]+part/2*(c.value[i+1]-c.value[i]))
}

// Material is what a blank is made of.
type Material struct {
	Density      float64 // kg/m3
	Conductivity Curve   // W/(m.K); with what hot glass conducts by radiation
	Capacity     Curve   // J/(kg.K)
}

func (m *Material) check() error {
	if err := within(ofDensity(m.Density)); err != nil {
		return err
	}
	if len(m.Conductivity.value) != curvePoints || len(m.Capacity.value) != curvePoints {
		return fmt.Errorf("a material needs both curves; make them with NewCurve or Constant")
	}
	for i := range m.Conductivity.value {
		if err := within(ofConductivity(m.Conductivity.value[i]),
			ofCapacity(m.Capacity.value[i])); err != nil {
			return err
		}
	}
	return nil
}
