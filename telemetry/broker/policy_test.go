package broker

import (
	"strings"
	"testing"
)

func TestWho(t *testing.T) {
	o := Options{ClientID: "daemon", User: "u", Password: "p", ReaderUser: "r", ReaderPassword: "rp"}
	const near, far = "127.0.0.1:5000", "192.0.2.7:5000" // RFC 5737: for documentation
	for _, c := range []struct {
		id, user, password, remote string
		want                       role
	}{
		{"daemon", "u", "p", near, daemon},
		{"daemon", "u", "p", far, daemon},
		{"other", "u", "p", near, stranger}, // the daemon's login has one client id
		{"daemon", "u", "wrong", near, stranger},
		{"daemon", "", "", near, stranger}, // nobody may push the daemon off
		{"daemon", "r", "rp", near, stranger},
		{"page", "", "", near, reader},
		{"page", "", "", "[::1]:5000", reader},
		{"page", "", "", far, stranger},
		{"page", "", "", "", stranger},
		{"page", "", "", "localhost:5000", stranger}, // a name proves nothing
		{"page", "r", "rp", far, reader},
		{"page", "r", "wrong", near, stranger},
		{"page", "x", "", near, stranger},
		{"page", "", "p", near, stranger},
	} {
		if got := (policy{&o}).who(c.id, c.user, c.password, c.remote); got != c.want {
			t.Errorf("%+v is %d, want %d", c, got, c.want)
		}
	}
	open := Options{ClientID: "daemon", User: "u", Password: "p"}
	if got := (policy{&open}).who("page", "r", "", far); got != stranger {
		t.Error("without a reader's login, a reader from outside was let in")
	}
}

func TestBelow(t *testing.T) {
	p := policy{&Options{Prefix: "pressrig"}}
	for topic, want := range map[string]bool{
		"pressrig/#": true, "pressrig/bench/state": true, "pressrig/+/state": true,
		"pressrig": false, "#": false, "+/bench/state": false, "": false, "$SYS/#": false,
		"pressrigs/bench": false, "$share/g/pressrig/#": false, "/pressrig/#": false,
		"pressrig/" + strings.Repeat("a", MaxFilter-9): true,
		"pressrig/" + strings.Repeat("a", MaxFilter-8): false,
	} {
		if got := p.below(topic); got != want {
			t.Errorf("%.40s: %t, want %t", topic, got, want)
		}
	}
}

func TestOptionsRefused(t *testing.T) {
	good := Options{Listen: "127.0.0.1:0", Prefix: "p", ClientID: "c", User: "u", Password: "p"}
	for name, change := range map[string]func(*Options){
		"no prefix":       func(o *Options) { o.Prefix = "" },
		"wildcard prefix": func(o *Options) { o.Prefix = "#" },
		"no user":         func(o *Options) { o.User = "" },
		"no password":     func(o *Options) { o.Password = "" },
		"no client id":    func(o *Options) { o.ClientID = "" },
		"no address":      func(o *Options) { o.Listen = "" },
		"bad address":     func(o *Options) { o.Listen = "127.0.0.1:port" },
	} {
		o := good
		change(&o)
		if b, err := Start(o); err == nil {
			b.Close()
			t.Errorf("%s: started", name)
		}
	}
}
