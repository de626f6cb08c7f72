package panel

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"pressrig/alloctest"
	"pressrig/panel/api"
	"pressrig/trials"
)

var rewrite = flag.Bool("rewrite", false,
	"write the golden files anew; a person reads the difference")

func TestMain(m *testing.M) {
	flag.Parse()
	goleak.VerifyTestMain(m)
}

// ask sends one request as it is and returns the status and the body.
func ask(t testing.TB, path, method, target, kind, body string) (int, string) {
	t.Helper()
	transport := &http.Transport{DisableKeepAlives: true,
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "unix", path)
		}}
	req, err := http.NewRequest(method, "http://pressrig"+target, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if kind != "" {
		req.Header.Set("Content-Type", kind)
	}
	resp, err := (&http.Client{Transport: transport, Timeout: 20 * time.Second}).Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(text)
}

func TestReadSideGolden(t *testing.T) {
	now := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	p, _, path := serving(t, func(o *Options) { o.Now = func() time.Time { return now } })
	p.Tell(running())
	var all strings.Builder
	for _, target := range []string{"/v1/status", "/v1/recipes", "/v1/recipes/practice-disc",
		"/v1/recipes/none", "/v1/cycles", "/v1/cycles?limit=1", "/v1/cycles?before=2",
		"/v1/cycles?limit=0", "/v1/cycles?limit=501", "/v1/cycles?before=x", "/v1/cycles/1",
		"/v1/cycles/3", "/v1/cycles/0", "/v1/cycles/-1", "/v1/cycles/99", "/v1/cycles/1/trace",
		"/v1/cycles/3/trace", "/v1/cycles/x/trace", "/v1/compare", "/v1/compare?cycle=1",
		"/v1/compare?cycle=1&cycle=3", "/v1/compare?cycle=1&cycle=2&form=text",
		"/v1/compare?cycle=1&cycle=2&form=pdf", "/v1/none", "/"} {
		code, body := ask(t, path, "GET", target, "", "")
		all.WriteString("GET " + target + "\n" + http.StatusText(code) + "\n" + body + "\n")
	}
	file := filepath.Join("testdata", "read.txt")
	if *rewrite {
		if err := os.WriteFile(file, []byte(all.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), all.String()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if strings.Contains(all.String(), "secret") {
		t.Error("the cause of an internal error reached the caller")
	}
}

func TestCompareForms(t *testing.T) {
	_, _, path := serving(t, nil)
	_, body := ask(t, path, "GET", "/v1/compare?cycle=1&cycle=2", "", "")
	var c trials.Comparison
	if err := json.Unmarshal([]byte(body), &c); err != nil || len(c.Cycles) != 2 {
		t.Errorf("%v in %s", err, body)
	}
	if _, body = ask(t, path, "GET", "/v1/compare?cycle=1&cycle=2&form=svg", "",
		""); !strings.HasPrefix(body, "<svg") {
		t.Errorf("no picture: %.80s", body)
	}
}

const asJSON = "application/json"

// known is who the panel finds at the other end: whoever runs this test, whatever
// name was typed.
func known(typed string) Who { return Who{typed, fmt.Sprintf("uid %d", os.Getuid())} }

func TestWriteSide(t *testing.T) {
	for _, c := range []struct {
		name, target, kind, body string
		code                     int
		asked                    any
		says                     string
	}{
		{"press", "/v1/press", asJSON, `{"recipe":"practice-disc","by":"Ada","last":true}`, 200,
			Order{Recipe: "practice-disc", Who: known("Ada"), Last: true}, `"cycle":12`},
		{"press text", "/v1/press", asJSON + "; charset=utf-8",
			`{"text":"recipe: x\n","file":"x.yaml","by":"Ada","dummy":true}`,
			200, Order{Text: []byte("recipe: x\n"), File: "x.yaml", Who: known("Ada"), Dummy: true}, `"cycle":12`},
		{"stop", "/v1/command", asJSON, `{"command":"stop","by":"Ada"}`, 200, asked{what: "stop",
			who: known("Ada")}, `"done":"stop"`},
		{"answer", "/v1/answer", asJSON, `{"prompt":4,"yes":true,"by":"Ada"}`, 200,
			asked{what: "answer", who: known("Ada"), n: 4, yes: true}, `"done":"answer"`},
		{"ack", "/v1/ack", asJSON, `{"by":"Ada"}`, 200, asked{what: "ack", who: known("Ada")}, `"done":"ack"`},

		{"start", "/v1/command", asJSON, `{"command":"start","by":"Ada"}`, 400, nil,
			"START button at the rig"},
		{"unknown command", "/v1/command", asJSON, `{"command":"jump","by":"Ada"}`, 400, nil,
			`no command \"jump\"`},
		{"nobody", "/v1/command", asJSON, `{"command":"stop"}`, 400, nil, "by is missing"},
		{"control character", "/v1/ack", asJSON, `{"by":"A\u001b[2J"}`, 400, nil, "control"},
		{"broken character", "/v1/ack", asJSON, "{\"by\":\"A\xff\"}", 400, nil, "control or broken"},
		{"by too long", "/v1/ack", asJSON, `{"by":"` + strings.Repeat("a", api.MaxBy+1) + `"}`, 400,
			nil, "at most 64"},
		{"by just right", "/v1/ack", asJSON, `{"by":"` + strings.Repeat("a", api.MaxBy) + `"}`, 200,
			asked{what: "ack", who: known(strings.Repeat("a", api.MaxBy))}, "ack"},
		{"no prompt", "/v1/answer", asJSON, `{"yes":true,"by":"Ada"}`, 400, nil, "prompt is missing"},
		{"prompt out of range", "/v1/answer", asJSON, `{"prompt":65536,"by":"Ada"}`, 400, nil,
			"not the JSON"},
		{"neither recipe nor text", "/v1/press", asJSON, `{"by":"Ada"}`, 400, nil,
			"either recipe or text"},
		{"both recipe and text", "/v1/press", asJSON, `{"recipe":"a","text":"b","by":"Ada"}`, 400, nil,
			"either"},
		{"text too long", "/v1/press", asJSON, `{"text":"` + strings.Repeat("a", api.MaxRecipeText+1) +
			`","by":"Ada"}`,
			400, nil, "at most 65536"},
		{"unknown field", "/v1/command", asJSON, `{"command":"stop","by":"Ada","force":true}`, 400, nil,
			"force"},
		{"two objects", "/v1/ack", asJSON, `{"by":"Ada"}{"by":"Ada"}`, 400, nil, "more follows"},
		{"rubbish behind", "/v1/ack", asJSON, `{"by":"Ada"}}`, 400, nil, "not the JSON"},
		{"array", "/v1/ack", asJSON, `[]`, 400, nil, "not the JSON"},
		{"null", "/v1/ack", asJSON, `null`, 400, nil, "by is missing"},
		{"empty", "/v1/ack", asJSON, ``, 400, nil, "not the JSON"},
		{"form", "/v1/ack", "application/x-www-form-urlencoded", `by=Ada`, 400, nil, "application/json"},
		{"no type", "/v1/ack", "", `{"by":"Ada"}`, 400, nil, "application/json"},
		{"too large", "/v1/ack", asJSON, `{"by":"` + strings.Repeat("a", api.MaxBody) + `"}`, 413, nil,
			"4096 bytes"},
		{"press too large", "/v1/press", asJSON, strings.Repeat(" ", api.MaxPressBody+1), 413, nil,
			"bytes"},
		{"no path", "/v1/start", asJSON, `{}`, 404, nil, "no such path"},
		{"read path", "/v1/status", asJSON, `{}`, 404, nil, "no such path"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, d, path := serving(t, nil)
			code, body := ask(t, path, "POST", c.target, c.kind, c.body)
			if code != c.code || !strings.Contains(body, c.says) {
				t.Errorf("got %d %s, want %d and %q", code, body, c.code, c.says)
			}
			var want []any
			if c.asked != nil {
				want = []any{c.asked}
			}
			if diff := cmp.Diff(want, d.all(), cmp.AllowUnexported(asked{})); diff != "" {
				t.Errorf("asked of the daemon, -want +got:\n%s", diff)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		err  error
		code int
		says string
	}{
		{api.Refusef("a cycle is under way"), 409, "a cycle is under way"},
		{&api.Error{Code: api.Problems, Message: "the recipe has problems",
			Lines: []string{"x:1:2: bad"}}, 422, "x:1:2: bad"},
		{&api.Error{Code: api.Busy, Message: "full"}, 503, "full"},
		{&api.Error{Code: "new", Message: "odd"}, 500, "odd"},
		{errors.New("secret"), 500, "could not do this"},
	} {
		var logged error
		_, d, path := serving(t, func(o *Options) { o.Log = func(err error) { logged = err } })
		d.err = c.err
		for _, r := range [][2]string{{"/v1/command", `{"command":"hold","by":"Ada"}`},
			{"/v1/press", `{"recipe":"a","by":"Ada"}`}} {
			code, body := ask(t, path, "POST", r[0], asJSON, r[1])
			if code != c.code || !strings.Contains(body, c.says) || strings.Contains(body, "secret") {
				t.Errorf("%v: got %d %s", c.err, code, body)
			}
		}
		if known := errors.As(c.err, new(*api.Error)); known == (logged != nil) {
			t.Errorf("%v: logged %v", c.err, logged)
		}
	}
}

// TestTwoPermissions: each side is shut by itself.
func TestTwoPermissions(t *testing.T) {
	for _, c := range []struct {
		may         Permit
		read, write int
	}{
		{0, 403, 403}, {MayRead, 200, 403}, {MayCommand, 403, 200}, {MayRead | MayCommand, 200, 200},
	} {
		_, d, path := serving(t, func(o *Options) { o.Permit = func(Peer) Permit { return c.may } })
		if code, body := ask(t, path, "GET", "/v1/status", "", ""); code != c.read {
			t.Errorf("may %d: read gives %d %s", c.may, code, body)
		}
		if code, body := ask(t, path, "POST", "/v1/ack", asJSON, `{"by":"Ada"}`); code != c.write {
			t.Errorf("may %d: write gives %d %s", c.may, code, body)
		}
		if c.write == 403 && len(d.all()) > 0 {
			t.Errorf("may %d: the daemon was asked %v", c.may, d.all())
		}
	}
}

func TestWhoMayWhat(t *testing.T) {
	for _, c := range []struct {
		permit func(Peer) Permit
		peer   Peer
		want   Permit
	}{
		{OwnerWrites(1000), Peer{Known: true, UID: 1000}, MayRead | MayCommand},
		{OwnerWrites(1000), Peer{Known: true, UID: 0}, MayRead | MayCommand},
		{OwnerWrites(1000), Peer{Known: true, UID: 1001}, MayRead},
		{OwnerWrites(1000), Peer{}, MayRead | MayCommand},
		{AllWrite, Peer{Known: true, UID: 1001}, MayRead | MayCommand},
	} {
		if got := c.permit(c.peer); got != c.want {
			t.Errorf("%+v: %d, want %d", c.peer, got, c.want)
		}
	}
}

func TestPeerIsTheCaller(t *testing.T) {
	got := make(chan Peer, 1)
	_, _, path := serving(t, func(o *Options) {
		o.Permit = func(p Peer) Permit { got <- p; return MayRead }
	})
	ask(t, path, "GET", "/v1/status", "", "")
	if p := <-got; runtime.GOOS == "linux" && (!p.Known || p.UID != os.Getuid()) {
		t.Errorf("peer is %+v, want user id %d", p, os.Getuid())
	}
}

func TestListen(t *testing.T) {
	path := socketPath(t)
	l, err := Listen(path, "")
	if err != nil {
		t.Fatal(err)
	}
	if mode := modeOf(t, path); mode != 0o600 {
		t.Errorf("mode %o, want 600", mode)
	}
	go func(l net.Listener) { // answer once: a daemon lives here
		if c, err := l.Accept(); err == nil {
			c.Close()
		}
	}(l)
	if _, err := Listen(path, ""); err == nil || !strings.Contains(err.Error(), "already answers") {
		t.Errorf("a second daemon: %v", err)
	}
	l.(*net.UnixListener).SetUnlinkOnClose(false)
	l.Close()
	l, err = Listen(path, groupOfMine()) // the socket of a dead daemon
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if mode := modeOf(t, path); mode != 0o660 {
		t.Errorf("mode %o, want 660", mode)
	}
	if _, err := Listen(socketPath(t), "no such group"); err == nil {
		t.Error("an unknown group is taken")
	}
	file := socketPath(t)
	if err := os.WriteFile(file, []byte("keep me"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Listen(file, ""); err == nil {
		t.Error("a file that is no socket is replaced")
	}
	if text, _ := os.ReadFile(file); string(text) != "keep me" {
		t.Error("the file is gone")
	}
}

func modeOf(t *testing.T, path string) os.FileMode {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return info.Mode().Perm()
}

func TestConversionsGoBothWays(t *testing.T) {
	c, _ := fakeCycle(1)
	c.Ended = c.Started.Add(time.Minute)
	c.Cause, c.CauseText, c.Lockout, c.LostRecords = 3, "flame lost", true, 2
	out := api.CycleOf(&c)
	if diff := cmp.Diff(c, out.Trials()); diff != "" {
		t.Errorf("cycle, -want +got:\n%s", diff)
	}
	tr, _ := fakeRecords{}.Trace(t.Context(), 1)
	wire := api.TraceOf(tr)
	back, err := wire.Trials()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(tr, back); diff != "" {
		t.Errorf("trace, -want +got:\n%s", diff)
	}
	wire.Columns[2].Counts = wire.Columns[2].Counts[:1]
	if _, err := wire.Trials(); err == nil {
		t.Error("a short column is taken")
	}
	wire.In = nil
	if _, err := wire.Trials(); err == nil {
		t.Error("a missing column is taken")
	}
}

func TestNewNeedsItsParts(t *testing.T) {
	if _, err := New(Options{}); err == nil {
		t.Error("a panel of nothing is made")
	}
}

// mostAnswering bounds, in bytes, what answering a request with a body of n
// bytes allocates: the decoder's buffer, which doubles as it grows, the strings
// it gives, and a note of each level, of which it takes 10,000.
func mostAnswering(n int) int { return 64<<10 + 8*min(n, api.MaxPressBody) + 64*min(n, 10_000) }

// FuzzRequestBody: whatever is sent, the answer is one of the codes, and the
// daemon is asked only what is valid.
func FuzzRequestBody(f *testing.F) {
	for _, body := range []string{`{"recipe":"a","by":"b"}`, `{"command":"stop","by":"b"}`,
		`{"prompt":1,"yes":true,"by":"b"}`, `{"by":"b"}`, `{"by":"b"} {`, `{"by":1e999}`,
		"\x00", `{"by":"\ud800"}`} {
		for i := range 4 {
			f.Add(uint8(i), body)
		}
	}
	f.Add(uint8(0), `{"text":`+strings.Repeat("[", 20_000))
	f.Add(uint8(0), `{"text":"`+strings.Repeat(`\u0041`, api.MaxRecipeText))
	f.Add(uint8(1), `{"by":"`+strings.Repeat("b", api.MaxBody))
	d := &fakeDaemon{}
	p, err := New(Options{Daemon: d, Records: fakeRecords{}, Causes: causes, Now: time.Now,
		Permit: AllWrite})
	if err != nil {
		f.Fatal(err)
	}
	h := p.handler()
	targets := []string{api.PathPress, api.PathCommand, api.PathAnswer, api.PathAck}
	f.Fuzz(func(t *testing.T, which uint8, body string) {
		var w *memory
		alloctest.Within(t, mostAnswering(len(body)), func() {
			d.asked = nil
			r, err := http.NewRequest("POST", targets[int(which)%4], strings.NewReader(body))
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Content-Type", asJSON)
			w = &memory{header: http.Header{}}
			h.ServeHTTP(w, r)
		})
		if w.code != 0 && w.code != 400 && w.code != 413 {
			t.Fatalf("code %d", w.code)
		}
		if (w.code == 0) != (len(d.asked) == 1) {
			t.Fatalf("code %d, asked %v", w.code, d.asked)
		}
		for _, a := range d.asked {
			if one, ok := a.(asked); ok && (one.who.By == "" || len(one.who.By) > api.MaxBy ||
				strings.ContainsAny(one.who.By, "\x00\x1b\n\r\t\x7f") || one.what == "start") {
				t.Fatalf("asked %+v", one)
			}
		}
	})
}

// memory is a ResponseWriter that keeps the code.
type memory struct {
	header http.Header
	code   int
}

func (m *memory) Header() http.Header         { return m.header }
func (m *memory) Write(b []byte) (int, error) { return len(b), nil }
func (m *memory) WriteHeader(code int)        { m.code = code }

// firstLine reads the status line of an answer.
func firstLine(t *testing.T, c net.Conn) string {
	t.Helper()
	line, err := bufio.NewReader(c).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(line)
}

// groupOfMine is a group that this test may give a file to.
func groupOfMine() string { return strconv.Itoa(os.Getgid()) }
