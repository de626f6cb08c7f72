//go:build !object

package warden

// What is explored: the specification itself, or with the build tag object the
// compiled C core in its place (firmware/object).
func explored(c *Config, s *State, in *Input, out *Output) { Step(c, s, in, out) }

// hasLastWord: what is explored refuses outputs that no step makes.
const hasLastWord = false
