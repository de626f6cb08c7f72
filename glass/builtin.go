package glass

import (
	"embed"
	"fmt"
	"sync"
)

//go:embed data/*.yaml
var data embed.FS

// names are the built-in glasses in the order in which people are shown them.
var names = []string{
	"soda-lime-lamp", "lead-29", "srm-710", "borosilicate-717a",
	"borosilicate-33", "float", "srm-710a", "srm-711", "dgg-1",
}

// builtin reads the built-in glasses, once.
var builtin = sync.OnceValue(func() map[string]*Glass {
	all := make(map[string]*Glass, len(names))
	for _, name := range names {
		file := "data/" + name + ".yaml"
		text, err := data.ReadFile(file)
		if err == nil {
			all[name], err = Parse(file, text)
		}
		if err != nil { // the files are part of the program and a test reads each
			panic(fmt.Sprintf("built-in glass: %v", err))
		}
	}
	return all
})

// Named finds a built-in glass by its name.
func Named(name string) (Glass, bool) {
	if g := builtin()[name]; g != nil {
		return *g, true
	}
	return Glass{}, false
}

// Names lists the built-in glasses.
func Names() []string { return append([]string(nil), names...) }

// Text is the file of a built-in glass, to be copied and changed.
func Text(name string) ([]byte, error) {
	if builtin()[name] == nil {
		return nil, fmt.Errorf("no built-in glass %q; there are %v", name, names)
	}
	return data.ReadFile("data/" + name + ".yaml")
}
