package firmware_test

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"os/exec"
	"testing"

	"pressrig/safety/warden"
)

// peer is the C warden in a process of its own. What the Go warden was given
// is put on a tape; compare plays it to the C warden and holds every state and
// output to the Go warden's.
type peer struct {
	t     *testing.T
	stdin io.Writer
	from  *bufio.Reader
	tape  []byte // commands
	want  []byte // answers
	ticks []int  // where the answer to each command begins in want
	got   []byte

	config warden.Config // what the C warden has now
	state  warden.State
	fresh  bool // nothing was told yet
	count  int  // steps compared
}

func newPeer(t *testing.T, program string) *peer {
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
			t.Errorf("the C warden ended with %v", err)
		}
	})
	return &peer{t: t, stdin: stdin, from: bufio.NewReaderSize(stdout, 1<<16), fresh: true}
}

// step is warden.Step, and its twin on the tape.
func (p *peer) step(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	if p.fresh || *c != p.config {
		p.tape = pack(append(p.tape, 'C'), c)
		p.config = *c
	}
	if p.fresh || *s != p.state { // the C warden keeps its own state from step to step
		p.tape = pack(append(p.tape, 'S'), s)
	}
	p.fresh = false
	p.tape = pack(append(p.tape, 'T'), in)
	p.ticks = append(p.ticks, len(p.want))
	warden.Step(c, s, in, out)
	p.state = *s
	p.want = pack(pack(p.want, s), out)
	p.want = append(p.want, number(warden.ViewFree(c, s, in)), number(warden.MayStroke(c, s, in)))
	p.want = binary.LittleEndian.AppendUint32(p.want, warden.UnburntLimit(c))
	p.count++
}

func number(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// start is warden.Init, and its twin on the tape.
func (p *peer) start(s *warden.State, nv uint8) {
	warden.Init(s, nv)
	p.state = *s
	p.tape = append(p.tape, 'I', nv)
	p.ticks = append(p.ticks, len(p.want))
	p.want = pack(p.want, s)
}

// compare plays the tape. It reports false, having said where, when the C
// warden differs.
func (p *peer) compare() bool {
	p.t.Helper()
	sent := make(chan error, 1)
	p.tape = append(p.tape, 'F')
	go func() {
		_, err := p.stdin.Write(p.tape)
		sent <- err
	}()
	p.got = append(p.got[:0], p.want...)
	if _, err := io.ReadFull(p.from, p.got); err != nil {
		p.t.Fatalf("the C warden does not answer: %v", err)
	}
	if err := <-sent; err != nil {
		p.t.Fatal(err)
	}
	same := bytes.Equal(p.got, p.want)
	if !same {
		p.explain()
	}
	p.tape, p.want, p.ticks = p.tape[:0], p.want[:0], p.ticks[:0]
	return same
}

// explain names the first fields that differ.
func (p *peer) explain() {
	p.t.Helper()
	at := 0
	for p.got[at] == p.want[at] {
		at++
	}
	k := len(p.ticks) - 1
	for p.ticks[k] > at {
		k--
	}
	end := len(p.want)
	if k+1 < len(p.ticks) {
		end = p.ticks[k+1]
	}
	p.t.Errorf("step %d of this tape differs first; fields that differ:", k)
	offset := p.ticks[k]
	for _, f := range answerFields() {
		if offset+f.size > end {
			return
		}
		got, want := p.got[offset:offset+f.size], p.want[offset:offset+f.size]
		if !bytes.Equal(got, want) {
			p.t.Errorf("  %s: C has % x, Go has % x (little-endian)", f.name, got, want)
		}
		offset += f.size
	}
}

// answerFields are the fields of an answer in order.
func answerFields() []field {
	all := fieldsOf(records[1].of, "state")
	all = append(all, fieldsOf(records[3].of, "output")...)
	return append(all, field{"view free", "uint8", 1}, field{"may stroke", "uint8", 1},
		field{"unburnt limit", "uint32", 4})
}
