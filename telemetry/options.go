package telemetry

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/rs/zerolog"
)

// Limits of what a configuration may ask for, and the defaults.
const (
	DefaultPrefix = "pressrig"
	DefaultListen = "127.0.0.1:1883" // the port that IANA assigns to MQTT; loopback only
	DefaultRateHz = 2.0              // channel values a second

	MinRateHz     = 0.01 // one message in 100 s; slower is no telemetry
	MaxRateHz     = 10.0 // faster than people look; the journal has the full trace
	MaxPrefix     = 100  // bytes; keeps every topic far below MQTT's 65,535
	MaxName       = 64   // bytes of rig name and client id
	MaxSecretFile = 4096 // bytes of a password file; a larger file is a wrong path
	MaxCAFile     = 1 << 20

	KeepAlive = 10 * time.Second // a broker calls us offline 1.5 x this after a silent cut
)

// Options configures Telemetry. There is deliberately no callback for
// commands: see the package comment.
type Options struct {
	Rig    string // the rig's name: letters, digits, - and _
	Dir    string // folder of undelivered cycle summaries; made when missing
	Prefix string // first part of every topic; DefaultPrefix when empty
	RateHz float64

	// URL of the broker: tcp://host:port or tls://host:port. Empty starts the
	// embedded broker on Listen.
	URL          string
	User         string
	Password     string
	PasswordFile string // instead of Password; one trailing line end is dropped
	CAFile       string // PEM; with tls://, instead of the system's authorities
	ClientID     string // "pressrig-" and the rig's name when empty

	// Listen is the embedded broker's address. Off loopback, readers need
	// ReaderUser and ReaderPassword; on loopback they may be anonymous.
	Listen         string
	ReaderUser     string
	ReaderPassword string

	RetryFirst   time.Duration // wait after the first failed connection; 500 ms
	RetryLongest time.Duration // the wait doubles up to this; 30 s
	FlushLongest time.Duration // Close delivers for at most this; 2 s

	Now       func() time.Time         // wall clock, for people; never steers the rig
	CauseText func(cause uint8) string // the sentence of a matrix row
	Log       zerolog.Logger           // what telemetry has to say
	Random    io.Reader                // embedded broker's password; crypto/rand when nil
	Dial      func(context.Context, string, string) (net.Conn, error)
	Listener  net.Listener // embedded broker's listener, instead of Listen
}

// settings are checked Options with everything read and filled in.
type settings struct {
	Options
	address string // host:port
	tls     *tls.Config
	period  time.Duration // between channel messages
}

// check turns Options into settings; the error names the option.
func check(o Options) (settings, error) {
	s := settings{Options: o}
	s.fill()
	if err := s.checkNames(); err != nil {
		return s, err
	}
	if s.RateHz < MinRateHz || s.RateHz > MaxRateHz { // NaN fails the next line
		return s, fmt.Errorf("telemetry: rate of %g Hz, want %g to %g", s.RateHz, MinRateHz, MaxRateHz)
	}
	s.period = time.Duration(float64(time.Second) / s.RateHz)
	if s.period <= 0 {
		return s, errors.New("telemetry: rate is not a number")
	}
	if s.URL == "" {
		return s, s.checkEmbedded()
	}
	if err := s.checkURL(); err != nil {
		return s, err
	}
	return s, s.readPassword()
}

func (s *settings) fill() {
	setDefault(&s.Prefix, DefaultPrefix)
	setDefault(&s.Listen, DefaultListen)
	setDefault(&s.ClientID, "pressrig-"+s.Rig)
	setDefault(&s.RateHz, DefaultRateHz)
	setDefault(&s.RetryFirst, 500*time.Millisecond)
	setDefault(&s.RetryLongest, 30*time.Second)
	setDefault(&s.FlushLongest, 2*time.Second)
	if s.Now == nil {
		s.Now = time.Now
	}
	if s.CauseText == nil {
		s.CauseText = func(cause uint8) string { return fmt.Sprintf("row %d of the matrix", cause) }
	}
	if s.Random == nil {
		s.Random = rand.Reader
	}
	if s.Dial == nil {
		s.Dial = (&net.Dialer{}).DialContext
	}
}

func setDefault[T comparable](v *T, d T) {
	var zero T
	if *v == zero {
		*v = d
	}
}

func (s *settings) checkNames() error {
	if !nameOK(s.Rig) {
		return fmt.Errorf("telemetry: rig name %q, want 1 to %d letters, digits, - or _", s.Rig, MaxName)
	}
	if s.Dir == "" {
		return errors.New("telemetry: no folder for undelivered cycle summaries")
	}
	if n := len(s.ClientID); n > MaxName {
		return fmt.Errorf("telemetry: client id of %d bytes, want at most %d", n, MaxName)
	}
	if len(s.Prefix) > MaxPrefix {
		return fmt.Errorf("telemetry: topic prefix of %d bytes, want at most %d",
			len(s.Prefix), MaxPrefix)
	}
	for _, level := range strings.Split(s.Prefix, "/") {
		if !nameOK(level) {
			return fmt.Errorf("telemetry: topic prefix %q, want names of letters, digits, - or _ "+
				"joined by /", s.Prefix)
		}
	}
	if s.RetryFirst < 0 || s.RetryLongest < s.RetryFirst || s.FlushLongest < 0 {
		return fmt.Errorf("telemetry: retry %v to %v and flush %v, "+
			"want none negative and first <= longest", s.RetryFirst, s.RetryLongest, s.FlushLongest)
	}
	return nil
}

func nameOK(name string) bool {
	for _, c := range []byte(name) {
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
		if !letter && (c < '0' || c > '9') && c != '-' && c != '_' {
			return false
		}
	}
	return name != "" && len(name) <= MaxName
}

func (s *settings) checkEmbedded() error {
	if s.User != "" || s.Password != "" || s.PasswordFile != "" || s.CAFile != "" {
		return errors.New("telemetry: user, password or CA file without a broker url; " +
			"the embedded broker makes its own")
	}
	if (s.ReaderUser == "") != (s.ReaderPassword == "") {
		return errors.New("telemetry: reader's user and password go together")
	}
	return nil
}

func (s *settings) checkURL() error {
	u, err := url.Parse(s.URL)
	if err != nil { // the text may hold a password: do not repeat it
		return errors.New("telemetry: broker url is not a url, want tcp://host:port or tls://host:port")
	}
	if u.User != nil {
		return errors.New("telemetry: user or password inside the broker url; use their own settings")
	}
	port, known := map[string]string{"tcp": "1883", "tls": "8883"}[u.Scheme]
	if !known || u.Hostname() == "" || u.Path != "" || u.RawQuery != "" || u.Fragment != "" {
		return fmt.Errorf("telemetry: broker url %q, want tcp://host:port or tls://host:port", s.URL)
	}
	if u.Port() != "" {
		port = u.Port()
	}
	s.address = net.JoinHostPort(u.Hostname(), port)
	if u.Scheme == "tcp" {
		if s.CAFile != "" {
			return errors.New("telemetry: CA file with a tcp:// broker, want tls://")
		}
		return nil
	}
	s.tls = &tls.Config{MinVersion: tls.VersionTLS12, ServerName: u.Hostname()}
	return s.readCA()
}

// secretInClear reports whether a password leaves this computer readable.
func (s *settings) secretInClear() bool {
	host, _, _ := net.SplitHostPort(s.address)
	ip := net.ParseIP(host)
	local := host == "localhost" || ip != nil && ip.IsLoopback()
	return s.URL != "" && s.tls == nil && s.Password != "" && !local
}

func (s *settings) readCA() error {
	if s.CAFile == "" {
		return nil
	}
	pem, err := readSmall(s.CAFile, MaxCAFile)
	if err != nil {
		return fmt.Errorf("telemetry: CA file: %w", err)
	}
	s.tls.RootCAs = x509.NewCertPool()
	if !s.tls.RootCAs.AppendCertsFromPEM(pem) {
		return fmt.Errorf("telemetry: CA file %s holds no certificate in PEM form", s.CAFile)
	}
	return nil
}

func (s *settings) readPassword() error {
	if s.PasswordFile == "" {
		return nil
	}
	if s.Password != "" {
		return errors.New("telemetry: password and password file, want one of them")
	}
	text, err := readSmall(s.PasswordFile, MaxSecretFile)
	if err != nil {
		return fmt.Errorf("telemetry: password file: %w", err)
	}
	s.Password = strings.TrimSuffix(strings.TrimSuffix(string(text), "\n"), "\r")
	if s.Password == "" {
		return fmt.Errorf("telemetry: password file %s is empty", s.PasswordFile)
	}
	return nil
}

// readSmall reads a file and refuses one larger than limit, so that a wrong
// path (a device, a disk image) costs no memory.
func readSmall(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err == nil && int64(len(data)) > limit {
		err = fmt.Errorf("%s is larger than %d bytes", path, limit)
	}
	return data, err
}
