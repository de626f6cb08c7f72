package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"

	"pressrig/drivers/bench"
)

// director runs the simulated rig as a child process and does to it what a
// person at the rig would. Daemon and rig share only the pty.
type director struct {
	child   *exec.Cmd
	lines   io.WriteCloser // the child ends when this does
	replies *bufio.Scanner
}

// startDirector starts the rig and waits until its pty is linked.
func startDirector(ctx context.Context, link string, speed int, seed uint64) (*director, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	child := exec.CommandContext(ctx, self, "bench", "--port-link", link, "--operator", "--until-eof",
		fmt.Sprintf("--speed=%d", speed), fmt.Sprintf("--seed=%d", seed))
	child.Stderr = os.Stderr
	child.Cancel = func() error { return child.Process.Signal(os.Interrupt) }
	d := &director{child: child}
	if d.lines, err = child.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := child.StdoutPipe()
	if err != nil {
		return nil, err
	}
	d.replies = bufio.NewScanner(out)
	if err := child.Start(); err != nil {
		return nil, err
	}
	if _, err := d.reply(); err != nil {
		return nil, errors.Join(fmt.Errorf("the simulated rig did not start: %w", err), d.close())
	}
	return d, nil
}

func (d *director) reply() (string, error) {
	if !d.replies.Scan() {
		return "", errors.Join(io.ErrUnexpectedEOF, d.replies.Err())
	}
	return d.replies.Text(), nil
}

// ask sends one line and returns the reply.
func (d *director) ask(line string) (string, error) {
	if _, err := fmt.Fprintln(d.lines, line); err != nil {
		return "", err
	}
	return d.reply()
}

// do sends one line that is answered by ok.
func (d *director) do(line string) error {
	reply, err := d.ask(line)
	if err == nil && reply != "ok" {
		err = fmt.Errorf("the simulated rig answered %q to %q", reply, line)
	}
	return err
}

func (d *director) truth() (bench.Truth, error) {
	var t bench.Truth
	reply, err := d.ask("truth")
	if err != nil {
		return t, err
	}
	return t, json.Unmarshal([]byte(reply), &t)
}

// close ends the child. Being interrupted is how it ends when we are.
func (d *director) close() error {
	_ = d.lines.Close() // it may have ended already
	err := d.child.Wait()
	var exited *exec.ExitError
	if errors.As(err, &exited) && strings.Contains(exited.String(), "interrupt") {
		return nil
	}
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}
