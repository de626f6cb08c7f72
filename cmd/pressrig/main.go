// Command pressrig is the one binary: the daemon (serve), the simulated rig
// (bench), the demonstration (demo) and the command line that talks to a
// daemon. A file a command; main only wires.
//
// It is no safety device: the emergency stop, the burner control and the guards
// of a rig are hardware that works without it.
//
// Start reading at run; service.go is the one place where the adapters meet.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// root is the whole command line: the daemon's commands, then those of a
// client, which are in env.go.
type root struct {
	globals
	Serve    serveCmd    `cmd:"" help:"Run the daemon of one rig. It is no safety device."`
	Bench    benchCmd    `cmd:"" help:"Run a simulated rig alone, behind a pseudo-terminal."`
	Demo     demoCmd     `cmd:"" help:"Run two cycles on a simulated rig and show them."`
	Campaign campaignCmd `cmd:"" help:"Provoke every fault on the simulated rig and judge it. It proves nothing about hardware."`
	commands
}

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run parses args, runs the command and returns the exit code. The first
// SIGINT or SIGTERM ends the command's context, so that it can close in order;
// the second one ends the process at once.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	ctx, forget := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer forget()
	defer context.AfterFunc(ctx, forget)()
	e := &env{ctx: ctx, in: in, out: out, err: errOut, by: who(),
		colour: onTerminal(out) && os.Getenv("NO_COLOR") == ""}
	if f, ok := out.(*os.File); ok && onTerminal(out) {
		e.columns = func() int { return columns(f) }
	}
	err := e.command(args)
	if text := message(err); text != "" {
		_, _ = fmt.Fprintln(errOut, "pressrig:", text) // nowhere left to tell
	}
	return exitCode(err)
}

// command parses args and runs what they ask for.
func (e *env) command(args []string) error {
	var c root
	shown := false // help was asked for and is printed
	parser, err := kong.New(&c,
		kong.Name("pressrig"),
		kong.Description("Timed heat-press-cool recipes on a glass pressing rig. "+
			"It is no safety device."),
		kong.Vars{"socket": defaultSocket(os.Getenv), "data": defaultData(os.Getenv)},
		kong.Writers(e.out, e.err),
		kong.Exit(func(int) { shown = true }),
		kong.Bind(e))
	if err != nil {
		return err
	}
	ctx, err := parser.Parse(args)
	switch {
	case shown:
		return nil
	case err != nil:
		return usage("%w; pressrig --help shows the usage", err)
	}
	e.flags = c.globals
	return ctx.Run()
}

// message is what a person is told about err, "" for an error that is only an
// exit code.
func message(err error) string {
	if end, silent := err.(exit); silent && end.err == nil || err == nil {
		return ""
	}
	return err.Error()
}
