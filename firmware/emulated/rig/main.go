// Command rig runs a rig whose microcontroller is the real image in an emulated
// ATmega2560, behind a pseudo-terminal and in real time: `pressrig serve` talks
// to it as to a board. Plant, faults and people are those of `pressrig bench`,
// and so are the command lines on standard input.
//
// It is for tests. It drives nothing, and nothing here is a safety device.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"

	"github.com/alecthomas/kong"

	"pressrig/drivers/bench"
	"pressrig/drivers/benchport"
	"pressrig/firmware/emulated"
	"pressrig/rig"
	"pressrig/safety"
)

// command is the command line, in the words of `pressrig bench`.
type command struct {
	PortLink string   `required:"" placeholder:"PATH" help:"Link the pseudo-terminal here."`
	Emulator string   `required:"" placeholder:"PATH" help:"The compiled emulator of sim/."`
	Image    string   `required:"" placeholder:"FILE" help:"The linked image, ELF."`
	Rig      string   `placeholder:"FILE" help:"Rig profile; the built-in bench without."`
	Seed     uint64   `default:"1" help:"Of every random number of the rig."`
	State    string   `placeholder:"DIR" help:"Folder that keeps the EEPROM."`
	Fault    []string `placeholder:"LINE" sep:"none" help:"Inject a fault, like 'flame_out @ burner=run+10s'."`
	Control  string   `placeholder:"PATH" help:"Unix socket that takes command lines, too."`
	Operator bool     `help:"Somebody seats blanks, pushes START and moves the lever."`
}

func main() {
	var c command
	parser := kong.Must(&c, kong.Name("rig"), kong.Description("The image behind a pseudo-terminal. Command lines:\n\n"+
		benchport.Help))
	if _, err := parser.Parse(os.Args[1:]); err != nil {
		parser.FatalIfErrorf(err)
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer stop()
	if err := c.run(ctx, os.Stdin, os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// mortal ends the rig when its emulator dies.
type mortal struct {
	*emulated.Board
	end func()
}

func (m mortal) Step(in *bench.BoardInput, out *bench.BoardOutput) {
	m.Board.Step(in, out)
	if m.Err() != nil {
		m.end()
	}
}

func (c *command) run(ctx context.Context, in io.Reader, out, log io.Writer) (err error) {
	p, err := profile(c.Rig)
	if err != nil {
		return err
	}
	board, err := c.board(p)
	if err != nil {
		return err
	}
	ctx, end := context.WithCancel(ctx)
	defer end()
	defer func() { err = errors.Join(err, board.Close()) }()
	r, err := bench.New(bench.Options{Profile: p, Config: p.WardenConfig(), Seed: c.Seed, Operator: c.Operator,
		Board: mortal{board, end}})
	if err != nil {
		return err
	}
	var faults []bench.Fault
	for _, line := range c.Fault {
		f, err := bench.ParseFault(line)
		if err != nil {
			return err
		}
		faults = append(faults, f)
	}
	return benchport.Serve(ctx, benchport.Options{Rig: r, Link: c.PortLink, Faults: faults, Control: in, Replies: out,
		Socket: c.Control,
		Ready: func(path string) {
			_, _ = fmt.Fprintf(out, "emulated board, rig %s, at %s, linked at %s\n", p.Name, path, c.PortLink)
		},
		Log: func(text string) { _, _ = fmt.Fprintln(log, text) },
	})
}

// board starts the image, fitted to the profile.
func (c *command) board(p *rig.Profile) (*emulated.Board, error) {
	img, err := emulated.ReadELF(c.Image)
	if err != nil {
		return nil, err
	}
	if err := img.Fit(p); err != nil {
		return nil, err
	}
	o := emulated.Options{Program: c.Emulator, Image: img, Seed: uint32(c.Seed)}
	if c.State != "" {
		if err := os.MkdirAll(c.State, 0o700); err != nil {
			return nil, err
		}
		o.Memory = filepath.Join(c.State, "eeprom")
	}
	return emulated.Start(o)
}

// profile is that of a simulated rig: a file's, or the built-in bench.
func profile(path string) (*rig.Profile, error) {
	if path == "" {
		return rig.Builtin("bench")
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	p, err := rig.ParseProfile(path, text)
	if err != nil {
		return nil, err
	}
	if !p.Simulated || !p.Board {
		return nil, fmt.Errorf("rig profile %s: an emulated board needs simulated: true and board: true", path)
	}
	return p, safety.CheckProfile(p)
}
