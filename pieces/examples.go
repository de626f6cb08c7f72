package pieces

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed examples/*.yaml
var examples embed.FS

// Example is one file that comes with the program.
type Example struct {
	Name string
	Kind string // piece | mould | tube
	Text []byte
}

// exampleNames lists the files by kind; the n-th of each belong together.
var exampleNames = [][2]string{
	{"stem-7pin-soda", "piece"}, {"mould-7pin-soda", "mould"}, {"tube-27-soda", "tube"},
	{"stem-4lead-lead", "piece"}, {"mould-4lead-lead", "mould"}, {"tube-24-lead", "tube"},
	{"button-boro", "piece"}, {"mould-button-boro", "mould"}, {"tube-30-boro", "tube"},
}

// Examples returns the embedded files, three sets of piece, mould and tube.
// Their numbers are invented; none was measured.
func Examples() []Example {
	var all []Example
	for _, e := range exampleNames {
		// The files are part of the program; a test reads them all.
		text, err := examples.ReadFile("examples/" + e[0] + "." + e[1] + ".yaml")
		if err == nil {
			all = append(all, Example{e[0], e[1], text})
		}
	}
	return all
}

// Named returns an embedded file by its name.
func Named(name string) (Example, error) {
	var names []string
	for _, e := range Examples() {
		if e.Name == name {
			return e, nil
		}
		names = append(names, e.Name)
	}
	return Example{}, fmt.Errorf("no example %.40q; there are %s", name, strings.Join(names, ", "))
}
