package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"pressrig/drivers/bench"
	"pressrig/drivers/benchport"
	"pressrig/glass"
	"pressrig/rig"
	"pressrig/safety"
)

// benchCmd runs the simulated rig alone.
type benchCmd struct {
	PortLink string   `required:"" placeholder:"PATH" help:"Link the pseudo-terminal here."`
	Rig      string   `placeholder:"FILE" help:"Rig profile; the built-in bench without."`
	Speed    int      `default:"1" help:"Virtual time over real time, 1 to 1000."`
	Seed     uint64   `default:"1" help:"Of every random number of the rig."`
	State    string   `placeholder:"DIR" help:"Folder that keeps the non-volatile memory."`
	Fault    []string `placeholder:"LINE" sep:"none" help:"Inject a fault, like 'flame_out @ burner=run+10s'."`
	Control  string   `placeholder:"PATH" help:"Unix socket that takes command lines, too."`
	Operator bool     `help:"Somebody seats blanks, pushes START and moves the lever."`
	Recipe   string   `placeholder:"FILE" help:"Recipe or stored recipe whose glass, blanks and moulds are there (default: those of a plain disc)."`
	Piece    []string `placeholder:"FILE" help:"Files of piece and mould that --recipe presses, or examples' names."`
	Plant    string   `placeholder:"FILE" help:"Plant that fit has saved, for the glass of --recipe; without one the usual figures act."`
	UntilEOF bool     `name:"until-eof" help:"End when standard input ends."`
}

// Help lists the lines that the bench takes.
func (benchCmd) Help() string {
	return "Takes command lines on standard input, each answered by one line:\n\n    " +
		strings.ReplaceAll(benchport.Help, "\n", "\n    ") + "\n\nFaults, each also \"NAME ... @ burner=run+10s for 5 s\":\n\n    " +
		strings.ReplaceAll(bench.FaultHelp(), "\n", "\n    ")
}

// Run serves the rig until SIGTERM, SIGINT or, with --until-eof, the end of
// standard input.
func (c *benchCmd) Run(e *env) error {
	p, err := benchProfile(c.Rig)
	if err != nil {
		return err
	}
	faults, err := parseFaults(c.Fault)
	if err != nil {
		return err
	}
	nvPath := ""
	if c.State != "" {
		if err := makeFolder(c.State); err != nil {
			return err
		}
		nvPath = filepath.Join(c.State, "memory")
	}
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	r, err := c.build(p, nvPath, shelf)
	if err != nil {
		return err
	}
	ctx, end := context.WithCancel(e.ctx)
	defer end()
	in := e.in
	if c.UntilEOF {
		in = &atEnd{e.in, end}
	}
	return benchport.Serve(ctx, benchport.Options{
		Rig: r, Scale: c.Speed, Link: c.PortLink, NVPath: nvPath, Faults: faults,
		Control: in, Replies: e.out, Socket: c.Control,
		Ready: func(path string) {
			_, _ = fmt.Fprintf(e.out, "simulated rig %s at %s, linked at %s\n", p.Name, path, c.PortLink)
		},
		Log: func(text string) { _, _ = fmt.Fprintln(e.err, text) },
	})
}

func (c *benchCmd) build(p *rig.Profile, nvPath string, shelf *glass.Shelf) (*bench.Rig, error) {
	nv, err := benchport.LoadNV(nvPath)
	if err != nil {
		return nil, err
	}
	if c.Speed < 1 || c.Speed > 1000 {
		return nil, usage("--speed must lie between 1 and 1000")
	}
	o := bench.Options{Profile: p, Config: p.WardenConfig(), Seed: c.Seed,
		Scale: uint16(c.Speed), NV: nv, Operator: c.Operator}
	if err := c.fill(&o, shelf); err != nil {
		return nil, err
	}
	return bench.New(o)
}

// fill puts glass, blanks and moulds of a recipe into the rig.
func (c *benchCmd) fill(o *bench.Options, shelf *glass.Shelf) error {
	if c.Recipe == "" {
		if len(c.Piece) > 0 || c.Plant != "" {
			return usage("--piece and --plant want --recipe, which names the glass and the blank")
		}
		return nil
	}
	s, err := (&rehearseCmd{Recipe: c.Recipe, Rig: c.Rig, Piece: c.Piece, Plant: c.Plant}).setting(shelf)
	if err != nil {
		return err
	}
	job, err := s.Job()
	if err != nil {
		return usage("%w", err)
	}
	o.Job, o.LowerC, o.UpperC = &job, float64(s.Recipe.Moulds.LowerC), float64(s.Recipe.Moulds.UpperC)
	return nil
}

// benchProfile is the profile of a simulated rig: a file's, or the built-in.
func benchProfile(path string) (*rig.Profile, error) {
	if path == "" {
		return rig.Builtin("bench")
	}
	p, err := loadRig(path)
	if err != nil {
		return nil, err
	}
	if !p.Simulated || !p.Board {
		return nil, fmt.Errorf("rig profile %s: a bench needs simulated: true and board: true", path)
	}
	return p, safety.CheckProfile(p)
}

func parseFaults(lines []string) ([]bench.Fault, error) {
	var all []bench.Fault
	for _, line := range lines {
		f, err := bench.ParseFault(line)
		if err != nil {
			return nil, usage("%w", err)
		}
		all = append(all, f)
	}
	return all, nil
}

// atEnd calls end when the reader has ended: the parent is gone.
type atEnd struct {
	io.Reader
	end func()
}

func (r *atEnd) Read(p []byte) (int, error) {
	n, err := r.Reader.Read(p)
	if errors.Is(err, io.EOF) || errors.Is(err, os.ErrClosed) {
		r.end()
	}
	return n, err
}
