package main

import (
	"errors"
	"io"

	"pressrig/panel"
	"pressrig/trials"
)

type compareCmd struct {
	Numbers []uint32 `arg:"" name:"number" help:"Two to ten cycles; the first is the measure."`
	SVG     string   `name:"svg" help:"Also draw an overlay into this file." placeholder:"FILE"`
}

// Run compares stored cycles.
func (c *compareCmd) Run(e *env) (err error) {
	if len(c.Numbers) < 2 || len(c.Numbers) > trials.MaxOverlay {
		return usage("compare needs two to %d cycle numbers", trials.MaxOverlay)
	}
	from, done, err := e.source()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	cycles, traces, err := e.load(from, c.Numbers)
	if err != nil {
		return err
	}
	if c.SVG != "" {
		if err := writeWhole(c.SVG, trials.Overlay(cycles, traces)); err != nil {
			return err
		}
	}
	result := trials.Compare(cycles, traces)
	if e.flags.JSON {
		return e.printJSON(result)
	}
	_, err = io.WriteString(e.out, result.Text())
	return err
}

func (e *env) load(from panel.Records, numbers []uint32) ([]trials.Cycle, []*trials.Trace, error) {
	var cycles []trials.Cycle
	var traces []*trials.Trace
	for _, n := range numbers {
		c, err := from.Cycle(e.ctx, n)
		if err != nil {
			return nil, nil, err
		}
		t, err := from.Trace(e.ctx, n)
		if err != nil {
			return nil, nil, err
		}
		cycles, traces = append(cycles, c), append(traces, t)
	}
	return cycles, traces, nil
}
