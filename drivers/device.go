package drivers

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"go.bug.st/serial"
)

// maxDescriptor is the greatest descriptor number that a line may get. The
// library waits with select(), which knows only numbers below 1024 and panics
// past them; the margin is for files that open at the same moment.
const maxDescriptor = 999

// descriptorsNeeded is what opening a line takes: the lock, the device, and
// the two ends of the pipe that wakes its reader.
const descriptorsNeeded = 4

// Errors of opening a device; compare with errors.Is.
var (
	ErrLocked       = errors.New("device is in use by another process")
	ErrDescriptors  = errors.New("too many open files: the serial library needs numbers below 1000")
	ErrNotSimulated = errors.New("a pseudo terminal needs a profile that says simulated: true")
)

// deviceLine is a device opened by the serial library, with its lock.
type deviceLine struct {
	serial.Port
	lock *os.File
}

// Close closes the device, then gives the lock free.
func (d *deviceLine) Close() error {
	return errors.Join(d.Port.Close(), d.lock.Close())
}

// openDevice opens the device that opts.Path stands for now: a link may point
// elsewhere after a replug.
func openDevice(opts *Options) (Line, error) {
	path, err := filepath.EvalSymlinks(opts.Path)
	if err != nil {
		return nil, err
	}
	pty := strings.HasPrefix(path, "/dev/pts/")
	if pty && !opts.Simulated {
		return nil, ErrNotSimulated
	}
	if err := checkDescriptors(); err != nil {
		return nil, err
	}
	lock, err := lockDevice(opts.LockDir, path)
	if err != nil {
		return nil, err
	}
	port, err := openPort(path, opts.Baud, pty)
	if err != nil {
		lock.Close()
		return nil, err
	}
	return &deviceLine{port, lock}, nil
}

// openPort opens the device raw, 8N1. DTR stays low, for raising it resets an
// Arduino; a pty has no such line, and some adapters have none either. Either
// way a hello is asked for afterwards.
func openPort(path string, baud int, pty bool) (serial.Port, error) {
	mode := serial.Mode{BaudRate: baud, DataBits: 8}
	if !pty {
		mode.InitialStatusBits = &serial.ModemOutputBits{DTR: false, RTS: true}
	}
	port, err := serial.Open(path, &mode)
	var failed *serial.PortError
	if !pty && errors.As(err, &failed) && failed.Code() == serial.InvalidSerialPort {
		mode.InitialStatusBits = nil
		port, err = serial.Open(path, &mode)
	}
	if err != nil {
		return nil, err
	}
	if err := tryRead(port); err != nil {
		port.Close()
		return nil, err
	}
	return port, nil
}

// tryRead sets the read timeout, throws away what the device held from before
// we came, and finds out here, where nothing depends on it yet, whether the
// library can wait on these descriptors at all.
func tryRead(port serial.Port) (err error) {
	defer func() {
		if recover() != nil {
			err = ErrDescriptors
		}
	}()
	if err := port.SetReadTimeout(time.Millisecond); err != nil {
		return err
	}
	if _, err := port.Read(make([]byte, readBytes)); err != nil {
		return err
	}
	return port.SetReadTimeout(pollRead)
}

// checkDescriptors opens as many files as a line needs and looks at their
// numbers: the system gives the lowest ones free.
func checkDescriptors() error {
	files := make([]*os.File, 0, descriptorsNeeded)
	defer func() {
		for _, f := range files {
			f.Close()
		}
	}()
	for range descriptorsNeeded {
		f, err := os.Open(os.DevNull)
		if err != nil {
			return fmt.Errorf("%w: %w", ErrDescriptors, err)
		}
		files = append(files, f)
		if f.Fd() > maxDescriptor {
			return fmt.Errorf("%w: number %d would be next", ErrDescriptors, f.Fd())
		}
	}
	return nil
}
