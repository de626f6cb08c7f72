package glass_test

import (
	"testing"

	"pressrig/yamlfile/yamltest"
)

// FORMAT.md names every key that the parser knows.
func TestFormatPageNamesEveryKey(t *testing.T) { yamltest.PageNamesKeys(t, 28) }
