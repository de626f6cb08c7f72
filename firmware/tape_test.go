package firmware_test

import (
	"bufio"
	"bytes"
	"io"
	"os"
	"os/exec"
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
}

// mark is where the answer to a command begins in want, and what it is about.
type mark struct {
	at    int
	about string
}

// run starts a C program. It ends with the test, and must not complain.
func run(t *testing.T, program string) *tape {
	t.Helper()
	cmd := exec.Command(program)
	cmd.Stderr = os.Stderr
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
	t.Cleanup(func() {
		stdin.Close()
		if err := cmd.Wait(); err != nil {
			t.Errorf("the C program ended with %v", err)
		}
	})
	return &tape{t: t, stdin: stdin, stdout: bufio.NewReaderSize(stdout, 1<<16)}
}

// mark says what the next answer is about.
func (p *tape) mark(about string) { p.marks = append(p.marks, mark{len(p.want), about}) }

// play reports where the C program's answer differs: the mark's number and the
// two answers from there, nil where all is the same.
func (p *tape) play() (at int, got, want []byte) {
	p.t.Helper()
	commands := append(p.commands, 'F')
	sent := make(chan error, 1)
	go func() {
		_, err := p.stdin.Write(commands)
		sent <- err
	}()
	p.got = append(p.got[:0], p.want...)
	if _, err := io.ReadFull(p.stdout, p.got); err != nil {
		p.t.Fatalf("the C program does not answer: %v", err)
	}
	if err := <-sent; err != nil {
		p.t.Fatal(err)
	}
	marks := p.marks
	want = p.want
	p.commands, p.want, p.marks = p.commands[:0], p.want[:0], p.marks[:0]
	if bytes.Equal(p.got, want) {
		return 0, nil, nil
	}
	for i, m := range marks {
		end := len(want)
		if i+1 < len(marks) {
			end = marks[i+1].at
		}
		if !bytes.Equal(p.got[m.at:end], want[m.at:end]) {
			p.t.Errorf("answer %d of this tape (%s) is the first that differs", i, m.about)
			return i, p.got[m.at:end], want[m.at:end]
		}
	}
	return 0, p.got, want
}
