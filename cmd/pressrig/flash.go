package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety"
)

type flashCmd struct {
	Rig        string `required:"" help:"Rig profile, or a built-in one's name."`
	Out        string `help:"Write the fitted image into this file, as Intel HEX." placeholder:"FILE"`
	Programmer string `default:"usbasp" help:"In-system programmer, as avrdude calls it."`
	Port       string `help:"Port of the programmer, where it needs one."`
	Avrdude    string `default:"avrdude" help:"The avrdude program."`
	Write      bool   `help:"Write the board now, after a question. Without it nothing is touched."`
}

func (flashCmd) Help() string {
	return "Fits the program that this pressrig carries to one rig and tells how it is written into the board, or " +
		"writes it. The board's limits come from the rig profile and can be changed only so: with a programmer " +
		"on its in-system programming header, never over the serial line. " + notSafe
}

// Fuses and lock bits of the ATmega2560, checked against its data sheet and
// avr-libc (firmware/README.md, Fuses); fusesText says what they mean.
const (
	chip     = "m2560"
	lowFuse  = 0xF7
	highFuse = 0xD7
	extFuse  = 0xFC
	lockBits = 0xEA
)

const fusesText = `  lfuse F7  full-swing oscillator for a crystal or resonator of 16 MHz, slow start, no division
  hfuse D7  no boot loader (starts at address 0), EEPROM kept over an erase (the lockout is in it),
            JTAG off (its pins are inputs of the rig), programming over SPI stays possible
  efuse FC  brown-out reset below 4.3 V
  lock  EA  no program can rewrite the flash; writing it again takes an erase by a programmer
`

const flashCautions = `BEFORE YOU WRITE A BOARD
  Shut the gas at the bottles, bleed the lines, switch the rig off, take the enabling chain's plug
  out of the board: while it is written its outputs mean nothing.
  The emergency stop, the certified burner control, the end switches and the outside watchdog must
  stand beside this board and work without it. ` + safety.Notice + ` Gas and mains
  are for people who may work on them where you live.
  Cut the board's automatic reset (docs/wiring.md), and take any shield with a boot loader off.
AFTERWARDS
  With the gas still shut: pressrig serve, then pressrig prove, every function, before the first flame.
`

// flashed is what flash tells of the image.
type flashed struct {
	Rig      string     `json:"rig"`
	Device   uint16     `json:"device"`
	Build    string     `json:"build"`
	Limits   string     `json:"limits_hash"`
	Bytes    int        `json:"program_bytes"`
	File     string     `json:"file,omitempty"`
	Commands [][]string `json:"commands"`
}

// Run fits, tells and, where asked, writes.
func (c *flashCmd) Run(e *env) error {
	p, err := (&checkCmd{Rig: c.Rig}).profile()
	if err != nil {
		return err
	}
	hex, told, err := fitted(p)
	if err != nil {
		return usage("%w", err)
	}
	file := c.Out
	if file == "" && c.Write {
		dir, err := os.MkdirTemp("", "pressrig-flash-")
		if err != nil {
			return fmt.Errorf("room for the image: %w", err)
		}
		defer os.RemoveAll(dir)
		file = filepath.Join(dir, "mega2560.hex")
	}
	if file != "" {
		if err := writeWhole(file, hex); err != nil {
			return fmt.Errorf("--out: %w", err)
		}
	}
	told.File, told.Commands = c.Out, c.commands(file)
	if !c.Write {
		return e.printFlashed(told)
	}
	if e.flags.JSON {
		return usage("--json goes without --write; a board is written in conversation")
	}
	if err := e.printFlashed(told); err != nil {
		return err
	}
	return c.write(e, p, told.Commands)
}

// fitted is the carried program with the block of a rig that stands within the
// standards' limits.
func fitted(p *rig.Profile) ([]byte, *flashed, error) {
	if err := safety.CheckProfile(p); err != nil {
		return nil, nil, err
	}
	program, err := image.Board()
	if err != nil {
		return nil, nil, err
	}
	segments, err := image.Fit(program, p)
	if err != nil {
		return nil, nil, err
	}
	c := p.WardenConfig()
	return image.WriteHex(segments...), &flashed{Rig: p.Name, Device: p.Device, Bytes: len(program),
		Build:  fmt.Sprintf("%08x", image.BuildHash(program)),
		Limits: fmt.Sprintf("%08X", wire.BlockHash(&c, &p.Signals))}, nil
}

// commands are the calls of avrdude, in order: what chip is there; erase, which
// opens a locked board, and fuses; the program, each byte read back; the lock.
func (c *flashCmd) commands(file string) [][]string {
	if file == "" {
		file = "FILE"
	}
	base := []string{c.Avrdude, "-p", chip, "-c", c.Programmer}
	if c.Port != "" {
		base = append(base, "-P", c.Port)
	}
	call := func(args ...string) []string { return append(append([]string{}, base...), args...) }
	fuse := func(name string, bits int) string { return fmt.Sprintf("%s:w:0x%02X:m", name, bits) }
	return [][]string{
		call("-U", "signature:r:-:h"),
		call("-e", "-U", fuse("lfuse", lowFuse), "-U", fuse("hfuse", highFuse), "-U", fuse("efuse", extFuse)),
		call("-U", "flash:w:"+file+":i"),
		call("-U", fuse("lock", lockBits)),
	}
}

// write asks, then calls avrdude step by step and stops at the first that fails.
func (c *flashCmd) write(e *env, p *rig.Profile, commands [][]string) error {
	if _, err := exec.LookPath(c.Avrdude); err != nil {
		return fmt.Errorf("%w; install avrdude, or name it with --avrdude", err)
	}
	fmt.Fprintf(e.out, "\nType the rig's name, %s, to write its board now: ", p.Name)
	text, err := answerLine(e.ctx, e.in)
	if err != nil || text != p.Name {
		return exit{exitFailed, fmt.Errorf("nothing was written: %q is not %q", text, p.Name)}
	}
	for i, args := range commands {
		fmt.Fprintf(e.out, "%s\n", strings.Join(args, " "))
		run := exec.CommandContext(e.ctx, args[0], args[1:]...)
		run.Stdout, run.Stderr = e.out, e.err
		if err := run.Run(); err != nil {
			return exit{exitFailed, fmt.Errorf("step %d of %d: %w; %s", i+1, len(commands), err, afterFailure(i))}
		}
	}
	_, err = fmt.Fprintln(e.out, "written and compared byte by byte; prove every function before the first flame: pressrig prove")
	return err
}

// afterFailure tells what state a step that failed leaves the board in.
func afterFailure(step int) string {
	switch step {
	case 0:
		return "the board was not touched: is it an ATmega2560, has it power, does the programmer's plug sit right?"
	case 1:
		return "the board may be erased and drives nothing: do it again before it goes back to the rig"
	case 2:
		return "the board has no whole program and drives nothing: do it again before it goes back to the rig"
	}
	return "the program is written, its lock is not: do it again before it goes back to the rig"
}

// answerLine reads one line, or ends with the context.
func answerLine(ctx context.Context, in io.Reader) (string, error) {
	got := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(io.LimitReader(in, 4096)).ReadString('\n') // an end is an empty answer
		got <- strings.TrimSpace(line)
	}()
	select {
	case line := <-got:
		return line, nil
	case <-ctx.Done():
		return "", errors.New("interrupted")
	}
}

func (e *env) printFlashed(f *flashed) error {
	if e.flags.JSON {
		return e.printJSON(f)
	}
	fmt.Fprintf(e.out, "program %s, %d bytes, fitted to rig %s (device %d, limits %s)\n", f.Build, f.Bytes, f.Rig, f.Device, f.Limits)
	if f.File != "" {
		fmt.Fprintf(e.out, "image in %s\n", f.File)
	}
	fmt.Fprintf(e.out, "\n%s\nIt is written with\n", flashCautions)
	for _, c := range f.Commands {
		fmt.Fprintf(e.out, "  %s\n", strings.Join(c, " "))
	}
	_, err := fmt.Fprintf(e.out, "\n%s", fusesText)
	return err
}
