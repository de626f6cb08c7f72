// Package recipes reads and checks recipes: the timed phases of a heat, press
// and cool cycle, as a person writes them in YAML. FORMAT.md is the reference.
//
// A check is static and complete: every problem of a file is told with line and
// column, what is wrong and what would be right. The package never opens a
// file, never talks to a rig and never judges whether the glass will be good;
// a recipe that passes may still be wrong for your rig. It is no safety device:
// the limits that protect people are the warden's and the hardware's.
//
// Start reading at recipe.go (what a recipe is), then parse.go; the stored
// recipes are in stored/.
package recipes
