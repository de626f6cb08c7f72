package firmware_test

import (
	"os"
	"regexp"
	"testing"

	"pressrig/drivers/wire"
)

// Every name under which a board says that its start failed is one that the
// daemon explains, and the other way round PROTOCOL.md lists them all.
func TestNamesOfAFailedStartAreExplained(t *testing.T) {
	main, err := os.ReadFile("boards/mega2560/main.c")
	if err != nil {
		t.Fatal(err)
	}
	protocol, err := os.ReadFile("../drivers/wire/PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	names := regexp.MustCompile(`"(mega2560 [a-z ]+[a-z])"`).FindAllSubmatch(main, -1)
	if len(names) != 5 {
		t.Fatalf("%d names in main.c", len(names))
	}
	for _, n := range names {
		if wire.StartFault(string(n[1])) == "" {
			t.Errorf("%s is not explained", n[1])
		}
		if !regexp.MustCompile("\\| `" + string(n[1]) + "` \\|").Match(protocol) {
			t.Errorf("PROTOCOL.md does not list %s", n[1])
		}
	}
}
