package controller

// transition is one cell of the table that changes the state.
type transition struct {
	from State
	by   Command // NoCommand: the state's own end ("done")
	to   State
}

// table is the state x command table of IEC 61512-1: 25 cells of 96 change the
// state, the other 71 refuse; six states end by themselves. Nothing else moves
// the machine from one state to another.
var table = [...]transition{
	{Idle, Start, Running},
	{Running, NoCommand, Complete},
	{Running, Stop, Stopping},
	{Running, Hold, Holding},
	{Running, Abort, Aborting},
	{Running, Pause, Pausing},
	{Complete, Reset, Idle},
	{Pausing, NoCommand, Paused},
	{Pausing, Stop, Stopping},
	{Pausing, Hold, Holding},
	{Pausing, Abort, Aborting},
	{Paused, Stop, Stopping},
	{Paused, Hold, Holding},
	{Paused, Abort, Aborting},
	{Paused, Resume, Running},
	{Holding, NoCommand, Held},
	{Holding, Stop, Stopping},
	{Holding, Abort, Aborting},
	{Held, Stop, Stopping},
	{Held, Restart, Restarting},
	{Held, Abort, Aborting},
	{Restarting, NoCommand, Running},
	{Restarting, Stop, Stopping},
	{Restarting, Hold, Holding},
	{Restarting, Abort, Aborting},
	{Stopping, NoCommand, Stopped},
	{Stopping, Abort, Aborting},
	{Stopped, Abort, Aborting},
	{Stopped, Reset, Idle},
	{Aborting, NoCommand, Aborted},
	{Aborted, Reset, Idle},
}

// Next is the state that command by leads to from state from; NoCommand asks
// for the state's own end. ok is false where the table refuses.
func Next(from State, by Command) (to State, ok bool) {
	for i := range table {
		if table[i].from == from && table[i].by == by {
			return table[i].to, true
		}
	}
	return from, false
}
