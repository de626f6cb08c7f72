package benchport

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"sync"
)

// maxLine is the longest command line, above the longest fault line.
const maxLine = 1024

// maxClients is how many may talk to the socket at once; more are hung up on.
const maxClients = 8

// command is one line that waits for the loop.
type command struct {
	line  string
	reply chan<- string // room for one
}

// control feeds command lines from a reader and a socket to the loop.
type control struct {
	lines    chan command
	done     chan struct{}
	group    sync.WaitGroup
	listener net.Listener
	mu       sync.Mutex
	clients  map[net.Conn]struct{}
}

// listen starts the goroutines that read command lines. stop ends those of the
// socket and waits for them; the one of Options.Control ends with its reader.
func listen(o *Options) (lines <-chan command, stop func(), err error) {
	c := &control{lines: make(chan command, waiting), done: make(chan struct{}),
		clients: map[net.Conn]struct{}{}}
	if o.Socket != "" {
		if c.listener, err = listenUnix(o.Socket); err != nil {
			return nil, nil, err
		}
		c.group.Add(1)
		go c.accept()
	}
	if o.Control != nil {
		replies := o.Replies
		if replies == nil {
			replies = io.Discard
		}
		go c.serve(o.Control, replies)
	}
	return c.lines, c.stop, nil
}

// listenUnix takes over the path of a socket that nobody answers any more, and
// of nothing else.
func listenUnix(path string) (net.Listener, error) {
	if info, err := os.Lstat(path); err == nil {
		if info.Mode()&fs.ModeSocket == 0 {
			return nil, fmt.Errorf("%s exists and is no socket; name another path", path)
		}
		if conn, err := net.Dial("unix", path); err == nil {
			return nil, errors.Join(fmt.Errorf("%s is in use by another bench", path), conn.Close())
		}
		if err := os.Remove(path); err != nil {
			return nil, fmt.Errorf("take over %s: %w", path, err)
		}
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("listen for commands: %w", err)
	}
	return l, nil
}

func (c *control) accept() {
	defer c.group.Done()
	for {
		conn, err := c.listener.Accept()
		if err != nil {
			return // closed by stop
		}
		if !c.admit(conn) {
			_ = conn.Close() // full or stopping: a client sees the end
			continue
		}
		c.group.Add(1)
		go func() {
			defer c.group.Done()
			defer c.leave(conn)
			c.serve(conn, conn)
		}()
	}
}

func (c *control) admit(conn net.Conn) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.clients == nil || len(c.clients) == maxClients {
		return false
	}
	c.clients[conn] = struct{}{}
	return true
}

func (c *control) leave(conn net.Conn) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.clients, conn)
	_ = conn.Close() // nothing is lost: every reply has been written
}

// serve reads lines and writes replies until either fails or the loop ends.
func (c *control) serve(r io.Reader, w io.Writer) {
	in := bufio.NewScanner(r)
	in.Buffer(make([]byte, 0, maxLine), maxLine)
	for in.Scan() {
		if in.Text() == "" {
			continue
		}
		answer := make(chan string, 1)
		select {
		case c.lines <- command{in.Text(), answer}:
		case <-c.done:
			return
		}
		select {
		case text := <-answer:
			if _, err := io.WriteString(w, text+"\n"); err != nil {
				return
			}
		case <-c.done:
			return
		}
	}
}

func (c *control) stop() {
	close(c.done)
	if c.listener != nil {
		_ = c.listener.Close() // removes the socket
	}
	c.mu.Lock()
	for conn := range c.clients {
		_ = conn.Close()
	}
	c.clients = nil
	c.mu.Unlock()
	c.group.Wait()
}
