package panel

import (
	"context"

	"pressrig/controller"
	"pressrig/recipes"
	"pressrig/trials"
)

// Daemon is what the panel needs of the daemon that it speaks for. Every
// method may be called from many goroutines at once. An error that is or wraps
// an *api.Error is told to the caller as it is; any other error is logged and
// told as internal.
type Daemon interface {
	// Press checks the recipe against the rig and hands the job to the loop,
	// which arms it. It returns the cycle's number, once the loop has taken it.
	Press(context.Context, Order) (cycle uint32, err error)
	// Command hands a command (never Start) to the loop and returns once a
	// step has seen it; a command that means nothing in the state is refused.
	Command(ctx context.Context, c controller.Command, who Who) error
	// Answer answers an open prompt.
	Answer(ctx context.Context, prompt uint16, yes bool, who Who) error
	// Ack acknowledges the trips and alarms on show.
	Ack(ctx context.Context, who Who) error
	// Recipes are the stored recipes, by name.
	Recipes() []*recipes.Recipe
}

// Who asks: the name that was typed, which may be anybody's, and the user that
// the kernel knows at the other end of the socket ("uid 1000", "" for none).
type Who struct{ By, User string }

// Order is a cycle that somebody asks for. One of Recipe and Text is set.
type Order struct {
	Recipe string // name of a stored recipe
	Text   []byte // or a recipe's own text
	File   string // what to call Text in messages
	Who
	Dummy bool // a warming-up piece
	Last  bool // shut the flame at the end instead of parking it
}

// Records is what the panel reads of the journal. ErrNoCycle of package api is
// the answer where there is no such cycle.
type Records interface {
	// Cycles gives at most limit cycles with numbers below before (0: all),
	// newest first, without their phases, measures and events.
	Cycles(ctx context.Context, before uint32, limit int) ([]trials.Cycle, error)
	// Cycle gives one cycle in full.
	Cycle(ctx context.Context, number uint32) (trials.Cycle, error)
	// Trace gives the sampled channels of one cycle.
	Trace(ctx context.Context, number uint32) (*trials.Trace, error)
}
