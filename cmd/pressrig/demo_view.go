package main

import (
	"fmt"
	"strings"
	"time"

	"pressrig/panel/api"
)

// demoView shows a cycle as it runs: a line for what happens, and the live
// values on one line that is written over on a terminal, else once a second.
type demoView struct {
	env    *env
	cycle  uint32
	answer func(prompt uint16) error

	asked   uint16
	phase   string
	live    int
	printed time.Time
}

func (v *demoView) frame(f *api.Frame) error {
	s := &f.Status
	v.clear()
	for i := range f.Records {
		if r := &f.Records[i]; r.Cycle == v.cycle && r.Kind != "measure" && r.Kind != "phase_begin" {
			if text := recordLine(r); text != "" {
				fmt.Fprintln(v.env.out, text)
			}
		}
	}
	if s.Prompt != nil && s.Prompt.Number != v.asked && s.State == "running" {
		v.asked = s.Prompt.Number
		fmt.Fprintf(v.env.out, "            prompt: %s (the demo answers yes)\n", s.Prompt.Text)
		if err := v.answer(s.Prompt.Number); err != nil {
			return err
		}
	}
	v.show(f)
	if s.Cycle == v.cycle && over(s.State) {
		return errEnded
	}
	return nil
}

func (v *demoView) show(f *api.Frame) {
	text := liveLine(f, v.env.width())
	if v.env.colour {
		v.live = len([]rune(text))
		fmt.Fprint(v.env.out, text)
		return
	}
	if now := time.Now(); now.Sub(v.printed) >= time.Second || f.Status.PhaseName != v.phase {
		v.printed, v.phase = now, f.Status.PhaseName
		fmt.Fprintln(v.env.out, "  "+text)
	}
}

// clear wipes the live line.
func (v *demoView) clear() {
	if v.live > 0 {
		fmt.Fprint(v.env.out, "\r"+strings.Repeat(" ", v.live)+"\r")
		v.live = 0
	}
}
