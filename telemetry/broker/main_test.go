package broker

import (
	"testing"

	"go.uber.org/goleak"
)

// No test leaves a goroutine behind, so Close leaves none.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
