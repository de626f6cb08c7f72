package loop

import (
	"context"
	"errors"

	"pressrig/controller"
)

// MaxOrders is how many orders wait at most. A person gives one at a time; a
// few panels and the command line together stay far below it. A full queue
// refuses, except Stop and Abort, which have a slot of their own each.
const MaxOrders = 16

// Errors of Do. A refusal by the machine is no error but a Reply.
var (
	ErrFull   = errors.New("too many orders are waiting: try again in a moment")
	ErrClosed = errors.New("the daemon is closing and takes no more orders")
	ErrEmpty  = errors.New("an order needs one command, answer or acknowledgement")
)

// Order is one thing that a person asks of the machine: exactly one of a
// command, an answer to a prompt, or an acknowledgement.
type Order struct {
	Command controller.Command
	Job     *controller.Job // with Start
	Answer  controller.Answer
	Ack     bool
	By      string // who gave it, as typed
	User    string // who gave it, as the kernel knows it; "" where it does not
}

// Reply is what the machine said to an order.
type Reply struct {
	Taken  bool
	Reason string // why not
	State  controller.State
	Cycle  uint32
}

// waiting is an order on its way, with room for its one reply.
type waiting struct {
	Order
	reply chan Reply
}

// Do gives the order to the machine and returns what it said. Stop and Abort
// are never refused for want of room: each waits for its own slot, which the
// next step frees. Safe for any number of callers.
func (l *Loop) Do(ctx context.Context, o Order) (Reply, error) {
	if o.count() != 1 {
		return Reply{}, ErrEmpty
	}
	w := &waiting{Order: o, reply: make(chan Reply, 1)}
	if err := l.enqueue(ctx, w); err != nil {
		return Reply{}, err
	}
	select {
	case r := <-w.reply:
		return r, nil
	case <-ctx.Done():
		return Reply{}, ctx.Err()
	case <-l.done:
		return l.late(w)
	}
}

// late returns the reply of an order that the last step may still have served.
func (l *Loop) late(w *waiting) (Reply, error) {
	select {
	case r := <-w.reply:
		return r, nil
	default:
		return Reply{}, ErrClosed
	}
}

func (l *Loop) enqueue(ctx context.Context, w *waiting) error {
	slot := l.slot(w.Command)
	if slot == nil {
		select {
		case <-l.done:
			return ErrClosed
		case l.orders <- w:
			return nil
		default:
			return ErrFull
		}
	}
	select {
	case slot <- w:
		return nil
	case <-l.done:
		return ErrClosed
	case <-ctx.Done():
		return ctx.Err()
	}
}

// slot is the command's own slot; nil for those that queue.
func (l *Loop) slot(c controller.Command) chan *waiting {
	switch c {
	case controller.Abort:
		return l.abort
	case controller.Stop:
		return l.stop
	}
	return nil
}

func (o *Order) count() int {
	n := 0
	if o.Command != controller.NoCommand {
		n++
	}
	if o.Answer.Prompt != 0 {
		n++
	}
	if o.Ack {
		n++
	}
	return n
}
