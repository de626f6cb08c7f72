package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/user"
	"path/filepath"

	"pressrig/panel/client"
)

// Exit codes, the same for every command.
const (
	exitDone     = 0
	exitFailed   = 1 // failed, or problems were found
	exitUsage    = 2 // wrong usage
	exitNoDaemon = 3
)

// globals are the flags that every command has.
type globals struct {
	Socket  string `help:"Socket of the daemon (default: ${socket})." env:"PRESSRIG_SOCKET"`
	Data    string `help:"Folder of the journal (default: ${data})." env:"PRESSRIG_DATA"`
	Glasses string `help:"Folder of glass files of your own, beside the built-in glasses." env:"PRESSRIG_GLASSES" placeholder:"DIR"`
	JSON    bool   `name:"json" help:"Print JSON."`
}

// commands are the commands that talk to a daemon or read a journal.
type commands struct {
	Press    pressCmd    `cmd:"" help:"Arm a cycle and follow it. START at the rig starts it."`
	Stop     stopCmd     `cmd:"" help:"End the cycle in order. This is not the emergency stop."`
	Hold     holdCmd     `cmd:"" help:"Hold the cycle. The software is no safety device."`
	Restart  restartCmd  `cmd:"" help:"Arm the restart of a held cycle. START at the rig starts it."`
	Pause    pauseCmd    `cmd:"" help:"Pause at the next phase boundary with the burner clear."`
	Resume   resumeCmd   `cmd:"" help:"Go on with a paused cycle. Keep hands out of the rig."`
	Abort    abortCmd    `cmd:"" help:"Shut the gases now. This is not the emergency stop."`
	Reset    resetCmd    `cmd:"" help:"Reset; a lockout needs the RESET button at the rig."`
	Ack      ackCmd      `cmd:"" help:"Acknowledge trips and alarms. It clears none of them."`
	Answer   answerCmd   `cmd:"" help:"Answer the open prompt."`
	Status   statusCmd   `cmd:"" help:"Show what the rig does."`
	Recipes  recipesCmd  `cmd:"" help:"List the stored recipes, or print one."`
	Check    checkCmd    `cmd:"" help:"Check recipes and rig profiles."`
	Cycles   cyclesCmd   `cmd:"" help:"List the stored cycles."`
	Cycle    cycleCmd    `cmd:"" help:"Show one stored cycle."`
	Plan     planCmd     `cmd:"" help:"Plan a first recipe from the drawing of a piece."`
	Rehearse rehearseCmd `cmd:"" help:"Rehearse a recipe on the simulated rig and judge the piece."`
	Fit      fitCmd      `cmd:"" help:"Fit the simulated plant to stored cycles of your rig."`
	Compare  compareCmd  `cmd:"" help:"Compare stored cycles."`
	Replay   replayCmd   `cmd:"" help:"Replay a stored cycle and compare every request."`
	Journal  journalCmd  `cmd:"" help:"Check the journal, or export a cycle."`
	Prove    proveCmd    `cmd:"" help:"Prove the protective functions, one at a time. No safety device."`
	Work     workCmd     `cmd:"" help:"Answer a single question of heating, flame, pressing and cooling."`
	Flash    flashCmd    `cmd:"" help:"Fit the firmware to a rig, and write the board."`
	Piece    pieceCmd    `cmd:"" help:"Check and measure the drawing of a stem, its mould and its tube."`
	Glass    glassCmd    `cmd:"" help:"List glasses, show one, answer how stiff it is."`
	Ports    portsCmd    `cmd:"" help:"List the serial ports of this computer."`
}

// env is what a command works with. main makes the real one, tests their own.
type env struct {
	ctx      context.Context
	in       io.Reader
	out, err io.Writer
	colour   bool       // out is a terminal that wants colour; it never carries a meaning alone
	columns  func() int // of the terminal that out is; nil where it is none
	by       string
	flags    globals
}

// exit is an error that says with which code to end. A nil err has no words:
// what there is to say was printed already.
type exit struct {
	code int
	err  error
}

func (e exit) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e exit) Unwrap() error { return e.err }

// exitCode is the code that a command's error ends the program with.
func exitCode(err error) int {
	var e exit
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &e):
		return e.code
	case errors.Is(err, client.ErrNoDaemon):
		return exitNoDaemon
	}
	return exitFailed
}

// usage is an error of wrong usage.
func usage(format string, args ...any) error {
	return exit{exitUsage, fmt.Errorf(format, args...)}
}

// defaultSocket is where daemon and command line meet when nobody says where.
func defaultSocket(getenv func(string) string) string {
	if dir := getenv("XDG_RUNTIME_DIR"); dir != "" {
		return filepath.Join(dir, "pressrig.sock")
	}
	return "/run/pressrig/pressrig.sock"
}

// defaultData is where the journal is when nobody says where.
func defaultData(getenv func(string) string) string {
	if dir := getenv("XDG_STATE_HOME"); dir != "" {
		return filepath.Join(dir, "pressrig")
	}
	return filepath.Join(getenv("HOME"), ".local", "state", "pressrig")
}

// journalFile is the journal in the folder data.
func journalFile(data string) string { return filepath.Join(data, "journal.db") }

func (e *env) socket() string {
	if e.flags.Socket != "" {
		return e.flags.Socket
	}
	return defaultSocket(os.Getenv)
}

func (e *env) data() string {
	if e.flags.Data != "" {
		return e.flags.Data
	}
	return defaultData(os.Getenv)
}

func (e *env) client() *client.Client { return client.New(e.socket()) }

// who is the name under which commands are given.
func who() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	return fmt.Sprintf("uid %d", os.Getuid())
}

// printJSON prints v for a program.
func (e *env) printJSON(v any) error {
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
