package rig

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed profiles/*.yaml
var profiles embed.FS

// BuiltinNames lists the built-in profiles. They are simulated rigs with
// invented figures: places to start from, never a description of your rig.
func BuiltinNames() []string {
	return []string{"driven", "weights", "no-thermometer", "bench"}
}

// Builtin is a built-in profile by its name: driven, weights, no-thermometer;
// bench is driven, the rig of the demo.
func Builtin(name string) (*Profile, error) {
	text, err := BuiltinText(name)
	if err != nil {
		return nil, err
	}
	return ParseProfile(name+".yaml", text)
}

// BuiltinText is the text of a built-in profile, to be copied and changed.
func BuiltinText(name string) ([]byte, error) {
	for _, known := range BuiltinNames() {
		if known == name {
			if name == "bench" {
				name = "driven"
			}
			return profiles.ReadFile("profiles/" + name + ".yaml")
		}
	}
	return nil, fmt.Errorf("no built-in profile %s; there are %s", quote(name),
		strings.Join(BuiltinNames(), ", "))
}
