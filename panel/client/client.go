// Package client speaks the daemon's local API over its unix socket, for the
// command line and for programs of others. It never retries a command: a
// command given twice may mean two things. Start reading at New.
package client

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"syscall"
	"time"

	"pressrig/panel/api"
)

// ErrNoDaemon says that nobody answers at the socket.
var ErrNoDaemon = errors.New("no daemon answers")

const (
	dialTimeout = 2 * time.Second
	// answerTimeout bounds the wait for the head of an answer; a command waits
	// for the loop for at most 5 s.
	answerTimeout = 10 * time.Second
	// maxAnswer bounds an answer: the trace of a cycle of an hour at 100 Hz
	// has 360,000 rows of about 100 bytes.
	maxAnswer = 64 << 20
	// maxFrame bounds one line of a follower: a status and 256 records.
	maxFrame = 1 << 20
)

// Client is one caller; it may be used from many goroutines.
type Client struct {
	socket string
	http   *http.Client
}

// New makes a Client for the socket at path. It connects with each call.
func New(path string) *Client {
	dial := func(ctx context.Context, _, _ string) (net.Conn, error) {
		d := net.Dialer{Timeout: dialTimeout}
		return d.DialContext(ctx, "unix", path)
	}
	return &Client{path, &http.Client{Transport: &http.Transport{
		DialContext: dial, DisableKeepAlives: true, ResponseHeaderTimeout: answerTimeout,
	}}}
}

// Status asks for one frame.
func (c *Client) Status(ctx context.Context) (api.Frame, error) {
	f, err := get[api.Frame](ctx, c, api.PathStatus)
	if err == nil {
		err = sameVersion(&f)
	}
	return f, err
}

// Follow calls each with frame after frame until each returns an error, ctx
// ends or the daemon leaves. It returns each's error as it is; io.EOF says
// that the daemon left.
func (c *Client) Follow(ctx context.Context, each func(*api.Frame) error) error {
	resp, err := c.do(ctx, http.MethodGet, api.PathFollow, nil)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	lines := bufio.NewScanner(resp.Body)
	lines.Buffer(make([]byte, 0, 64<<10), maxFrame)
	for lines.Scan() {
		var f api.Frame
		if err := json.Unmarshal(lines.Bytes(), &f); err != nil {
			return fmt.Errorf("a frame of the daemon: %w", err)
		}
		if err := sameVersion(&f); err != nil {
			return err
		}
		if err := each(&f); err != nil {
			return err
		}
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err := lines.Err(); err != nil {
		return fmt.Errorf("the daemon's stream broke off: %w", err)
	}
	return io.EOF
}

func sameVersion(f *api.Frame) error {
	if f.Version != api.Version {
		return fmt.Errorf("the daemon speaks version %d of the local API, this program version %d; "+
			"use the pressrig that the daemon was started from", f.Version, api.Version)
	}
	return nil
}

// Press asks for a cycle.
func (c *Client) Press(ctx context.Context, p api.Press) (api.Started, error) {
	var out api.Started
	err := c.post(ctx, api.PathPress, p, &out)
	return out, err
}

// Command gives a command.
func (c *Client) Command(ctx context.Context, command, by string) error {
	return c.post(ctx, api.PathCommand, api.Command{Command: command, By: by}, &api.Done{})
}

// Answer answers the prompt of that number.
func (c *Client) Answer(ctx context.Context, prompt uint16, yes bool, by string) error {
	return c.post(ctx, api.PathAnswer, api.Answer{Prompt: prompt, Yes: yes, By: by}, &api.Done{})
}

// Ack acknowledges the trips and alarms on show.
func (c *Client) Ack(ctx context.Context, by string) error {
	return c.post(ctx, api.PathAck, api.Ack{By: by}, &api.Done{})
}

// Recipes lists the stored recipes, without their texts.
func (c *Client) Recipes(ctx context.Context) ([]api.Recipe, error) {
	return get[[]api.Recipe](ctx, c, api.PathRecipes)
}

// Recipe gives one stored recipe with its text.
func (c *Client) Recipe(ctx context.Context, name string) (api.Recipe, error) {
	return get[api.Recipe](ctx, c, api.PathRecipes+"/"+url.PathEscape(name))
}

// Cycles lists at most limit cycles with numbers below before (0: all).
func (c *Client) Cycles(ctx context.Context, before uint32, limit int) ([]api.Cycle, error) {
	query := url.Values{"limit": {strconv.Itoa(limit)}}
	if before > 0 {
		query.Set("before", strconv.FormatUint(uint64(before), 10))
	}
	return get[[]api.Cycle](ctx, c, api.PathCycles+"?"+query.Encode())
}

// Cycle gives one cycle.
func (c *Client) Cycle(ctx context.Context, number uint32) (api.Cycle, error) {
	return get[api.Cycle](ctx, c, fmt.Sprintf("%s/%d", api.PathCycles, number))
}

// Trace gives the trace of one cycle.
func (c *Client) Trace(ctx context.Context, number uint32) (api.Trace, error) {
	return get[api.Trace](ctx, c, fmt.Sprintf("%s/%d/trace", api.PathCycles, number))
}

func get[T any](ctx context.Context, c *Client, path string) (T, error) {
	var out T
	err := c.ask(ctx, http.MethodGet, path, nil, &out)
	return out, err
}

func (c *Client) post(ctx context.Context, path string, body, into any) error {
	text, err := json.Marshal(body)
	if err != nil {
		return err
	}
	return c.ask(ctx, http.MethodPost, path, text, into)
}

func (c *Client) ask(ctx context.Context, method, path string, body []byte, into any) error {
	resp, err := c.do(ctx, method, path, body)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if err := json.NewDecoder(io.LimitReader(resp.Body, maxAnswer)).Decode(into); err != nil {
		return fmt.Errorf("the daemon's answer to %s: %w", path, err)
	}
	return nil
}

// do sends one request. An answer that is a refusal comes back as *api.Error.
func (c *Client) do(ctx context.Context, method, path string, body []byte) (*http.Response, error) {
	req, err := http.NewRequestWithContext(ctx, method, "http://pressrig"+path, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return nil, c.explain(err)
	}
	if resp.StatusCode == http.StatusOK {
		return resp, nil
	}
	defer resp.Body.Close()
	refusal := &api.Error{}
	err = json.NewDecoder(io.LimitReader(resp.Body, maxFrame)).Decode(refusal)
	if err != nil || refusal.Message == "" {
		return nil, fmt.Errorf("the daemon answered %s to %s %s", resp.Status, method, path)
	}
	return nil, refusal
}

// explain tells a missing daemon from other trouble with the socket.
func (c *Client) explain(err error) error {
	switch {
	case errors.Is(err, syscall.ENOENT), errors.Is(err, syscall.ECONNREFUSED):
		return fmt.Errorf("%w at %s; start it with: pressrig serve --rig RIG.yaml", ErrNoDaemon, c.socket)
	case errors.Is(err, syscall.EACCES):
		return fmt.Errorf("no access to %s; the daemon's config names the group that has it: %w",
			c.socket, err)
	}
	if errors.Is(err, io.EOF) || errors.Is(err, syscall.ECONNRESET) || errors.Is(err, syscall.EPIPE) {
		return fmt.Errorf("the daemon at %s closed the connection; it is ending, or has too many: %w",
			c.socket, err)
	}
	return fmt.Errorf("talk to the daemon at %s: %w", c.socket, err)
}
