// Package api has the words of the local API: what travels as JSON between
// the daemon, the command line and the operator's page. Every key that holds a
// quantity ends in its unit (glass_C, left_s).
//
// It never opens a connection and never decides. Types only grow: a key is
// never renamed or given another unit within one Version. Start reading at
// Status; the conversions to and from the types of the pure packages are in
// convert.go and cycle.go.
package api

// Version is the version of the words, in every status and refused by the
// client when it differs.
const Version = 1

// Paths of the local API. Read-side paths need the read permission, the others
// the write permission.
const (
	PathStatus  = "/v1/status"  // GET: one Frame
	PathFollow  = "/v1/follow"  // GET: Frames, one a line, until the caller leaves
	PathRecipes = "/v1/recipes" // GET: []Recipe; with /NAME one Recipe with its text
	PathCycles  = "/v1/cycles"  // GET: []Cycle, newest first; /N: Cycle; /N/trace: Trace
	PathCompare = "/v1/compare" // GET ?cycle=N&cycle=M...: Comparison

	PathPress   = "/v1/press"   // POST Press: Started
	PathCommand = "/v1/command" // POST Command
	PathAnswer  = "/v1/answer"  // POST Answer
	PathAck     = "/v1/ack"     // POST Ack
)

// Limits of what the daemon takes and gives, each with its reason.
const (
	// MaxBody bounds every request but Press: the longest is a command with
	// its name, well under 1 KiB.
	MaxBody = 4 << 10
	// MaxPressBody bounds a Press: a recipe text of MaxRecipeText, in which
	// JSON may write a byte as six, and the few other keys.
	MaxPressBody = 6*MaxRecipeText + MaxBody
	// MaxRecipeText bounds a recipe; a long one of 30 phases has 6 KiB.
	MaxRecipeText = 64 << 10
	// MaxBy bounds the name of who gave a command, in bytes: it stands in
	// every record.
	MaxBy = 64
	// MaxName bounds the name of a recipe, in bytes.
	MaxName = 64
	// MaxCompare bounds the cycles of one comparison: a picture with more
	// lines cannot be read.
	MaxCompare = 10
	// MaxCycles bounds one page of the list of cycles.
	MaxCycles = 500
)
