package emulated

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"time"
)

// Bounds of the emulator's process.
const (
	patience  = 30 * time.Second // for one answer; a step takes about 0.1 ms
	mostBytes = 1 << 19          // of a frame
	saidBytes = 4096             // of its complaints that are kept
)

// Build compiles the emulator in folder sim to program.
func Build(sim, program string) error {
	files, err := filepath.Glob(filepath.Join(sim, "*.c"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no C files of the emulator in %s", sim)
	}
	args := append([]string{"-std=gnu99", "-O2", "-Wall", "-Wextra", "-Werror", "-o", program}, files...)
	if out, err := exec.Command("cc", append(args, "-lsimavr")...).CombinedOutput(); err != nil {
		return fmt.Errorf("compile the emulator (Debian: libsimavr-dev, libelf-dev): %w\n%s", err, out)
	}
	return nil
}

// process is the running emulator. It ends with its input, so with us.
type process struct {
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *os.File
	said   tail
	buf    []byte
	answer []byte
	err    error // the first that happened: nothing is asked any more
}

// tail keeps the end of what is written to it.
type tail struct {
	mu   sync.Mutex
	text []byte
}

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p...)
	t.text = t.text[max(0, len(t.text)-saidBytes):]
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.text)
}

func start(program string, args ...string) (*process, error) {
	read, write, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("start the emulator: %w", err)
	}
	p := &process{cmd: exec.Command(program, args...), out: read}
	p.cmd.Stdout, p.cmd.Stderr = write, &p.said
	p.in, err = p.cmd.StdinPipe()
	if err == nil {
		err = p.cmd.Start()
	}
	if err = errors.Join(err, write.Close()); err != nil {
		return nil, errors.Join(fmt.Errorf("start the emulator: %w", err), read.Close())
	}
	return p, nil
}

// ask sends one frame and gives the answer's bytes, good until the next call. A
// process that is dead or does not answer is an error from then on.
func (p *process) ask(letter byte, parts ...[]byte) ([]byte, error) {
	if p.err != nil {
		return nil, p.err
	}
	p.buf = append(p.buf[:0], letter, 0, 0, 0, 0)
	for _, part := range parts {
		p.buf = append(p.buf, part...)
	}
	binary.LittleEndian.PutUint32(p.buf[1:], uint32(len(p.buf)-5))
	if err := p.exchange(letter); err != nil {
		p.err = fmt.Errorf("the emulator fails at %q: %w; it said: %s", letter, err, p.said.String())
		_ = p.cmd.Process.Kill() // ended already, or hanging
		return nil, p.err
	}
	return p.answer, nil
}

func (p *process) exchange(letter byte) error {
	if err := p.out.SetReadDeadline(time.Now().Add(patience)); err != nil {
		return err
	}
	if _, err := p.in.Write(p.buf); err != nil {
		return err
	}
	var head [5]byte
	if _, err := io.ReadFull(p.out, head[:]); err != nil {
		return err
	}
	n := int(binary.LittleEndian.Uint32(head[1:]))
	if head[0] != letter || n > mostBytes {
		return fmt.Errorf("an answer %q of %d bytes", head[0], n)
	}
	if cap(p.answer) < n {
		p.answer = make([]byte, n)
	}
	p.answer = p.answer[:n]
	_, err := io.ReadFull(p.out, p.answer)
	return err
}

// close ends the emulator.
func (p *process) close() error {
	err := errors.Join(p.in.Close(), p.cmd.Wait(), p.out.Close())
	if p.err != nil {
		return p.err // why it is dead already
	}
	return err
}
