package span

import (
	"math"
	"strings"
	"testing"
)

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		value float64
		good  bool
	}{{1, true}, {2, true}, {1.5, true}, {0.999, false}, {2.001, false}, {-1.5, false},
		{math.NaN(), false}, {math.Inf(1), false}, {math.Inf(-1), false}} {
		err := Check(Of{"first in m", 1, 0, 1}, Of{"gap in mm", c.value, 1, 2})
		if (err == nil) != c.good {
			t.Errorf("%g: %v", c.value, err)
		}
		if err != nil && !strings.Contains(err.Error(), "gap in mm is ") {
			t.Errorf("%g: %v names no quantity", c.value, err)
		}
	}
}
