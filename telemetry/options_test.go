package telemetry

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestOptionsRefused(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	big := file("big", strings.Repeat("x", MaxSecretFile+1))
	empty, junk := file("empty", "\n"), file("junk.pem", "no certificate")
	for name, c := range map[string]struct {
		change func(*Options)
		want   string
	}{
		"no rig":             {func(o *Options) { o.Rig = "" }, "rig name"},
		"rig with slash":     {func(o *Options) { o.Rig = "a/b" }, "rig name"},
		"rig with wildcard":  {func(o *Options) { o.Rig = "#" }, "rig name"},
		"rig too long":       {func(o *Options) { o.Rig = strings.Repeat("a", MaxName+1) }, "rig name"},
		"no folder":          {func(o *Options) { o.Dir = "" }, "folder"},
		"prefix wildcard":    {func(o *Options) { o.Prefix = "a/+" }, "prefix"},
		"prefix empty level": {func(o *Options) { o.Prefix = "a//b" }, "prefix"},
		"prefix too long":    {func(o *Options) { o.Prefix = strings.Repeat("a", MaxPrefix+1) }, "prefix"},
		"rate too high":      {func(o *Options) { o.RateHz = MaxRateHz + 0.001 }, "rate"},
		"rate too low":       {func(o *Options) { o.RateHz = MinRateHz / 2 }, "rate"},
		"rate negative":      {func(o *Options) { o.RateHz = -1 }, "rate"},
		"rate no number":     {func(o *Options) { o.RateHz = math.NaN() }, "rate"},
		"scheme":             {func(o *Options) { o.URL = "http://h:1" }, "tcp://host:port"},
		"websocket":          {func(o *Options) { o.URL = "ws://h:1" }, "tcp://host:port"},
		"no host":            {func(o *Options) { o.URL = "tcp://:1883" }, "tcp://host:port"},
		"path":               {func(o *Options) { o.URL = "tcp://h:1/x" }, "tcp://host:port"},
		"not a url":          {func(o *Options) { o.URL = "tcp://h:secret%" }, "not a url"},
		"password in url":    {func(o *Options) { o.URL = "tcp://u:secret@h:1" }, "inside the broker url"},
		"two passwords":      {func(o *Options) { o.Password, o.PasswordFile = "a", "b" }, "one of them"},
		"no password file":   {func(o *Options) { o.PasswordFile = "missing" }, "password file"},
		"large password":     {func(o *Options) { o.PasswordFile = big }, "larger than"},
		"empty password":     {func(o *Options) { o.PasswordFile = empty }, "is empty"},
		"CA over tcp":        {func(o *Options) { o.CAFile = junk }, "want tls://"},
		"CA without one":     {func(o *Options) { o.URL, o.CAFile = "tls://h:1", junk }, "no certificate"},
		"CA missing":         {func(o *Options) { o.URL, o.CAFile = "tls://h:1", "missing" }, "CA file"},
		"user, no url":       {func(o *Options) { o.URL, o.User = "", "u" }, "without a broker url"},
		"reader's half":      {func(o *Options) { o.URL, o.ReaderUser = "", "u" }, "go together"},
		"client id":          {func(o *Options) { o.ClientID = strings.Repeat("a", MaxName+1) }, "client id"},
		"retry":              {func(o *Options) { o.RetryFirst = time.Hour }, "retry"},
	} {
		o := Options{Rig: "bench", Dir: dir, URL: "tcp://h:1"}
		c.change(&o)
		_, err := check(o)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want something with %q", name, err, c.want)
		} else if strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: the error holds the password: %v", name, err)
		}
	}
}

func TestSecretInClear(t *testing.T) {
	for url, want := range map[string]bool{
		"tcp://127.0.0.1": false, "tcp://[::1]": false, "tcp://localhost": false,
		"tcp://192.0.2.7": true, "tcp://broker.example": true, "tls://192.0.2.7": false,
	} {
		s, err := check(Options{Rig: "bench", Dir: "d", URL: url, Password: "p"})
		if err != nil || s.secretInClear() != want {
			t.Errorf("%s: in clear %t, want %t (%v)", url, s.secretInClear(), want, err)
		}
	}
}

func TestOptionsTaken(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "password")
	if err := os.WriteFile(file, []byte("p w\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := check(Options{Rig: "bench", Dir: dir, URL: "tls://[::1]", PasswordFile: file,
		RateHz: MaxRateHz})
	if err != nil {
		t.Fatal(err)
	}
	if s.address != "[::1]:8883" || s.Password != "p w" || s.period != 100*time.Millisecond ||
		s.ClientID != "pressrig-bench" || s.Prefix != "pressrig" || s.tls.ServerName != "::1" {
		t.Errorf("got %+v", s)
	}
	if s, err = check(Options{Rig: "bench", Dir: dir}); err != nil || s.Listen != "127.0.0.1:1883" {
		t.Errorf("embedded on %q, %v; want loopback", s.Listen, err)
	}
}
