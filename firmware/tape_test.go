package firmware_test

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"sync"
	"testing"
)

// tape is a C program and what a Go test has for it: commands, and the answers
// that it should give. Play sends the commands and compares.
type tape struct {
	t        *testing.T
	stdin    io.Writer
	stdout   *bufio.Reader
	commands []byte
	want     []byte
	got      []byte
	marks    []mark
	end      func() // closes its input and waits for its end
}

// mark is where the answer to a command begins in want, and what it is about.
type mark struct {
	at    int
	about string
}

// run starts a C program. It ends with the test, and with success.
func run(t *testing.T, program string) *tape {
	t.Helper()
	cmd := exec.Command(program)
	cmd.Stderr = os.Stderr
	return runCommand(t, cmd)
}

func runCommand(t *testing.T, cmd *exec.Cmd) *tape {
	t.Helper()
	stdin, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	stdout, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p := &tape{t: t, stdin: stdin, stdout: bufio.NewReaderSize(stdout, 1<<16)}
	p.end = sync.OnceFunc(func() {
		stdin.Close()
		if err := cmd.Wait(); err != nil {
			t.Errorf("the C program ended with %v", err)
		}
	})
	t.Cleanup(p.end)
	return p
}

// mark says what the next answer is about.
func (p *tape) mark(about string) { p.marks = append(p.marks, mark{len(p.want), about}) }

// difference is the first answer of a C program that is not the wanted one.
type difference struct {
	number    int // of the answer on its tape
	about     string
	got, want []byte
}

func (d *difference) String() string {
	return fmt.Sprintf("answer %d of this tape (%s) differs: C % x, Go % x", d.number, d.about, d.got, d.want)
}

// play sends what is on the tape and compares the answers; nil: all as wanted.
func (p *tape) play() *difference {
	p.t.Helper()
	commands, want, marks := append(p.commands, 'F'), p.want, p.marks
	sent := make(chan error, 1)
	go func() {
		_, err := p.stdin.Write(commands)
		sent <- err
	}()
	got := append(p.got[:0], want...)
	if _, err := io.ReadFull(p.stdout, got); err != nil {
		p.t.Fatalf("the C program does not answer: %v", err)
	}
	if err := <-sent; err != nil {
		p.t.Fatal(err)
	}
	p.commands, p.want, p.marks, p.got = commands[:0], want[:0], marks[:0], got
	for i, m := range marks {
		end := len(want)
		if i+1 < len(marks) {
			end = marks[i+1].at
		}
		if !bytes.Equal(got[m.at:end], want[m.at:end]) {
			return &difference{i, m.about, got[m.at:end], want[m.at:end]}
		}
	}
	return nil
}
