package chunk

import (
	"pressrig/controller"
	"pressrig/rig"
)

// Limits of a block.
const (
	// MaxRows is a second of steps at 100 Hz with room for a late second.
	MaxRows = 128
	// MaxBy is the longest name of a person or user, in bytes; longer ones are cut.
	MaxBy = 256
	// MaxBytes bounds a block and what it unpacks to: every column of every
	// row at its longest, and a side row for each row.
	MaxBytes = 256 << 10
)

// Row is one step: all of its input, and the request that it produced. It
// owns its data, so that filling it from an Input allocates nothing.
type Row struct {
	Tick      uint64
	ElapsedMs uint64
	Session   uint32
	BadFrames uint8
	HasSnap   bool
	Snap      rig.Snapshot // meaningful with HasSnap, else zero
	Journal   controller.JournalHealth

	Command controller.Command
	By      string
	User    string
	Answer  controller.Answer
	Ack     bool
	HasJob  bool
	Job     Job // meaningful with HasJob, else zero

	Request rig.Request // kept for comparison only
}

// Job is controller.Job without its recipe, which is frozen with the cycle.
type Job struct {
	Cycle uint32
	Run   uint32
	Piece uint16
	Dummy bool
	Last  bool
	By    string
	User  string
}

// Set fills the row from a step. It keeps no pointer into in or req.
func (r *Row) Set(in *controller.Input, req *rig.Request) {
	*r = Row{
		Tick: in.Tick, ElapsedMs: in.ElapsedMs, Session: in.Session, BadFrames: in.BadFrames,
		Journal: in.Journal, Command: in.Command, By: cut(in.By), User: cut(in.User), Answer: in.Answer,
		Ack: in.Ack, Request: *req,
	}
	if in.Snap != nil {
		r.HasSnap, r.Snap = true, *in.Snap
	}
	if in.Job != nil {
		r.HasJob = true
		r.Job = Job{Cycle: in.Job.Cycle, Run: in.Job.Run, Piece: in.Job.Piece,
			Dummy: in.Job.Dummy, Last: in.Job.Last, By: cut(in.Job.By), User: cut(in.Job.User)}
	}
}

// Input is the step's input again. Its Snap points into the row. Its Job has
// no Recipe: the caller parses the frozen text once and puts it in.
func (r *Row) Input() controller.Input {
	in := controller.Input{
		Tick: r.Tick, ElapsedMs: r.ElapsedMs, Session: r.Session, BadFrames: r.BadFrames,
		Command: r.Command, By: r.By, User: r.User, Answer: r.Answer, Ack: r.Ack, Journal: r.Journal,
	}
	if r.HasSnap {
		in.Snap = &r.Snap
	}
	if r.HasJob {
		in.Job = &controller.Job{Cycle: r.Job.Cycle, Run: r.Job.Run, Piece: r.Job.Piece,
			Dummy: r.Job.Dummy, Last: r.Job.Last, By: r.Job.By, User: r.Job.User}
	}
	return in
}

// hasSide reports whether the row needs a side row: people act seldom, so what
// they do stands apart from the columns.
func (r *Row) hasSide() bool {
	return r.Command != 0 || r.By != "" || r.User != "" || r.Answer != controller.Answer{} || r.Ack || r.HasJob
}

func cut(s string) string {
	if len(s) > MaxBy {
		return s[:MaxBy]
	}
	return s
}
