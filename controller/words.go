package controller

// State is a cycle state of IEC 61512-1. The numbers are in the journal:
// written out, never renumbered.
type State uint8

// The twelve states.
const (
	Idle       State = 1
	Running    State = 2
	Complete   State = 3
	Pausing    State = 4
	Paused     State = 5
	Holding    State = 6
	Held       State = 7
	Restarting State = 8
	Stopping   State = 9
	Stopped    State = 10
	Aborting   State = 11
	Aborted    State = 12
)

// Command is a command of IEC 61512-1.
type Command uint8

// The eight commands; NoCommand is the absence of one.
const (
	NoCommand Command = 0
	Start     Command = 1
	Stop      Command = 2
	Hold      Command = 3
	Restart   Command = 4
	Abort     Command = 5
	Reset     Command = 6
	Pause     Command = 7
	Resume    Command = 8
)

var stateNames = [...]string{"", "idle", "running", "complete", "pausing", "paused", "holding",
	"held", "restarting", "stopping", "stopped", "aborting", "aborted"}

var commandNames = [...]string{"", "start", "stop", "hold", "restart", "abort", "reset", "pause",
	"resume"}

// String is the state's name in lower case.
func (s State) String() string {
	if int(s) < len(stateNames) {
		return stateNames[s]
	}
	return "state?"
}

// String is the command's name in lower case.
func (c Command) String() string {
	if int(c) < len(commandNames) {
		return commandNames[c]
	}
	return "command?"
}

// CommandNamed finds a command by its name; NoCommand when there is none.
func CommandNamed(name string) Command {
	for i, n := range commandNames {
		if n == name {
			return Command(i)
		}
	}
	return NoCommand
}
