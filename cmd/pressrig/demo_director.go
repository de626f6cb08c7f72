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
	"syscall"
	"time"

	"pressrig/drivers/bench"
)

const (
	// childWait is how long the rig may take to end once its input has ended.
	childWait = 2 * time.Second
	// maxComplaint bounds what is kept of what the rig complains about.
	maxComplaint = 4 << 10
)

// director runs the simulated rig as a child process and does to it what a
// person at the rig would. Daemon and rig share only the pty.
type director struct {
	child     *exec.Cmd
	kill      context.CancelFunc
	lines     io.WriteCloser // the child ends when this does, ours or not
	replies   *bufio.Scanner
	complaint *head
}

// startDirector starts the rig and waits until its pty is linked. The rig has a
// process group of its own, so that Ctrl-C reaches the daemon alone, which then
// stops the cycle in order; when this process dies the rig's input ends.
func startDirector(link string, speed int, seed uint64) (*director, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	ctx, kill := context.WithCancel(context.Background())
	d := &director{kill: kill, complaint: &head{}}
	d.child = exec.CommandContext(ctx, self, "bench", "--port-link", link, "--operator", "--until-eof",
		fmt.Sprintf("--speed=%d", speed), fmt.Sprintf("--seed=%d", seed))
	d.child.Args[0] = os.Args[0] // how this program was called, should it look at that
	d.child.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	d.child.Stderr = d.complaint
	d.child.WaitDelay = childWait
	if err := d.start(); err != nil {
		kill()
		return nil, fmt.Errorf("the simulated rig did not start: %w", err)
	}
	if _, err := d.reply(); err != nil {
		return nil, fmt.Errorf("the simulated rig did not start: %w",
			errors.Join(err, d.close(), d.complaint.err()))
	}
	return d, nil
}

func (d *director) start() (err error) {
	if d.lines, err = d.child.StdinPipe(); err != nil {
		return err
	}
	out, err := d.child.StdoutPipe()
	if err != nil {
		return err
	}
	d.replies = bufio.NewScanner(out)
	return d.child.Start()
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

// close ends the child by ending its input, by force when that does not do.
func (d *director) close() error {
	_ = d.lines.Close() // it may have ended already
	late := time.AfterFunc(childWait, d.kill)
	defer late.Stop()
	defer d.kill()
	if err := d.child.Wait(); err != nil {
		return fmt.Errorf("the simulated rig: %w", errors.Join(err, d.complaint.err()))
	}
	return nil
}

// head keeps the beginning of what is written to it.
type head struct{ text []byte }

// Write takes all and keeps what there is room for.
func (h *head) Write(p []byte) (int, error) {
	h.text = append(h.text, p[:min(len(p), maxComplaint-len(h.text))]...)
	return len(p), nil
}

// err is what was written, as an error.
func (h *head) err() error {
	if len(h.text) == 0 {
		return nil
	}
	return errors.New(strings.TrimSpace(string(h.text)))
}
