package client

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/panel/api"
)

// answering serves h on a unix socket.
func answering(t *testing.T, h http.HandlerFunc) *Client {
	t.Helper()
	dir, err := os.MkdirTemp("", "client")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	path := filepath.Join(dir, "s")
	l, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewUnstartedServer(h)
	s.Listener.Close()
	s.Listener = l
	s.Start()
	t.Cleanup(s.Close)
	return New(path)
}

// TestCallsAreWhatTheAPISays: method, path and body of every call.
func TestCallsAreWhatTheAPISays(t *testing.T) {
	var got []string
	c := answering(t, func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		got = append(got, r.Method+" "+r.URL.String()+" "+string(body))
		answer := "{}"
		switch r.URL.Path {
		case api.PathStatus:
			answer = `{"version":1}`
		case api.PathRecipes, api.PathCycles:
			answer = "[]"
		}
		_, _ = io.WriteString(w, answer)
	})
	ctx := t.Context()
	for _, call := range []func() error{
		func() error { _, err := c.Status(ctx); return err },
		func() error { _, err := c.Press(ctx, api.Press{Recipe: "a", By: "Ada"}); return err },
		func() error { return c.Command(ctx, "stop", "Ada") },
		func() error { return c.Answer(ctx, 4, true, "Ada") },
		func() error { return c.Ack(ctx, "Ada") },
		func() error { _, err := c.Recipes(ctx); return err },
		func() error { _, err := c.Recipe(ctx, "a/b"); return err },
		func() error { _, err := c.Cycles(ctx, 0, 20); return err },
		func() error { _, err := c.Cycles(ctx, 7, 20); return err },
		func() error { _, err := c.Cycle(ctx, 7); return err },
		func() error { _, err := c.Trace(ctx, 7); return err },
	} {
		if err := call(); err != nil {
			t.Fatal(err)
		}
	}
	want := []string{
		"GET /v1/status ",
		`POST /v1/press {"recipe":"a","by":"Ada"}`,
		`POST /v1/command {"command":"stop","by":"Ada"}`,
		`POST /v1/answer {"prompt":4,"yes":true,"by":"Ada"}`,
		`POST /v1/ack {"by":"Ada"}`,
		"GET /v1/recipes ",
		"GET /v1/recipes/a%2Fb ",
		"GET /v1/cycles?limit=20 ",
		"GET /v1/cycles?before=7&limit=20 ",
		"GET /v1/cycles/7 ",
		"GET /v1/cycles/7/trace ",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestNoDaemon(t *testing.T) {
	dir := t.TempDir()
	dead := filepath.Join(dir, "dead")
	l, err := net.Listen("unix", dead)
	if err != nil {
		t.Fatal(err)
	}
	l.(*net.UnixListener).SetUnlinkOnClose(false)
	l.Close()
	for _, path := range []string{filepath.Join(dir, "none"), dead} {
		c := New(path)
		_, err := c.Status(t.Context())
		if !errors.Is(err, ErrNoDaemon) || !strings.Contains(err.Error(), "pressrig serve --rig") {
			t.Errorf("%s: %v", path, err)
		}
		if err := c.Follow(t.Context(), nil); !errors.Is(err, ErrNoDaemon) {
			t.Errorf("follow %s: %v", path, err)
		}
	}
}

func TestRefusalComesThrough(t *testing.T) {
	want := &api.Error{Code: api.Problems, Message: "the recipe has problems",
		Lines: []string{"a:1:2: bad"}}
	c := answering(t, func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(422)
		_ = json.NewEncoder(w).Encode(want)
	})
	_, err := c.Press(t.Context(), api.Press{})
	var got *api.Error
	if !errors.As(err, &got) || cmp.Diff(want, got) != "" {
		t.Errorf("got %v", err)
	}
	if text := err.Error(); text != "the recipe has problems\na:1:2: bad" {
		t.Errorf("for people: %q", text)
	}
}

func TestOddAnswers(t *testing.T) {
	for _, a := range []struct {
		code int
		body string
		says string
	}{
		{500, "oh", "500 Internal Server Error"},
		{500, "{}", "500 Internal Server Error"},
		{200, "oh", "answer to /v1/status"},
		{200, `{"version":2}`, "version 2"},
		{200, "", "answer to /v1/status"},
	} {
		c := answering(t, func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(a.code)
			_, _ = io.WriteString(w, a.body)
		})
		if _, err := c.Status(t.Context()); err == nil || !strings.Contains(err.Error(), a.says) {
			t.Errorf("%d %q: %v", a.code, a.body, err)
		}
	}
}

func TestFollow(t *testing.T) {
	c := answering(t, func(w http.ResponseWriter, _ *http.Request) {
		_, _ = io.WriteString(w, `{"version":1,"rig":"a"}`+"\n"+`{"version":1,"rig":"b"}`+"\n")
	})
	var rigs []string
	each := func(f *api.Frame) error { rigs = append(rigs, f.Rig); return nil }
	if err := c.Follow(t.Context(), each); !errors.Is(err, io.EOF) {
		t.Errorf("at the end: %v", err)
	}
	if strings.Join(rigs, "") != "ab" {
		t.Errorf("rigs %v", rigs)
	}
	enough := errors.New("enough")
	if err := c.Follow(t.Context(), func(*api.Frame) error { return enough }); !errors.Is(err,
		enough) {
		t.Errorf("got %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	err := c.Follow(ctx, func(*api.Frame) error { cancel(); return nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("after cancel: %v", err)
	}
	for _, lines := range []string{"{\n", `{"version":9}` + "\n"} {
		c := answering(t, func(w http.ResponseWriter, _ *http.Request) {
			_, _ = io.WriteString(w,
				lines)
		})
		if err := c.Follow(t.Context(), each); err == nil || errors.Is(err, io.EOF) {
			t.Errorf("%q: %v", lines, err)
		}
	}
}
