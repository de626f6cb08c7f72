package main

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"pressrig/telemetry"
	"pressrig/yamlfile"
)

// Limits of the config.
const (
	maxPath  = 200 // characters; a socket path of the system has 107 bytes at most
	maxName  = 64
	minQuota = 2 << 20 // below it the journal could not hold one cycle
	maxQuota = 1 << 50
	fastest  = 100 * time.Millisecond // telemetry's own limits
	slowest  = 100 * time.Second
)

// Telemetry modes besides the address of a broker.
const (
	brokerEmbedded = "embedded"
	brokerNone     = "none"
)

// config is what pressrig.yaml says of the daemon: where it keeps and shows
// things. What concerns the rig is in the rig profile.
type config struct {
	Data         string // folder of the journal and of telemetry's store
	Glasses      string // folder of glass files of one's own, "" for none
	Socket       string
	Group        string // of the socket, "" for the daemon's own user alone
	GroupMay     string // read | command
	Broker       string // embedded | none | address of a broker
	Listen       string // embedded broker: where it listens
	Reader       string // embedded broker: who may read from other machines
	ReaderFile   string // file that holds the reader's password
	User         string // at a broker of one's own
	PasswordFile string
	CAFile       string        // the broker's certificate authority
	Every        time.Duration // between two messages with channel values
	Level        zerolog.Level
	Quota        int64 // bytes of the journal, 0 for none
}

// defaultConfig is what holds where the file and the flags say nothing.
func defaultConfig(getenv func(string) string) config {
	return config{
		Data: defaultData(getenv), Socket: defaultSocket(getenv), GroupMay: "read",
		Broker: brokerEmbedded, Listen: telemetry.DefaultListen, Every: time.Second,
		Level: zerolog.InfoLevel,
	}
}

// parseConfig reads text over the defaults c. The error has every problem with
// its line and column.
func parseConfig(name string, text []byte, c config) (config, error) {
	f := yamlfile.Read(name, text)
	m := f.Root().Map("data", "glasses", "socket", "telemetry", "log", "journal")
	setText(&c.Data, m.Get("data"), maxPath)
	setText(&c.Glasses, m.Get("glasses"), maxPath)
	if n := m.Get("log"); n.Present() {
		level, err := zerolog.ParseLevel(n.Choice("debug", "info", "warn", "error"))
		if err == nil {
			c.Level = level
		}
	}
	c.socketFrom(m.Get("socket").Map("path", "group", "group_may"))
	c.telemetryFrom(m.Get("telemetry").Map("broker", "listen", "reader",
		"reader_password_file", "user", "password_file", "ca_file", "every"))
	if n := m.Get("journal").Map("quota").Get("quota"); n.Present() {
		c.Quota = bytesOf(n)
	}
	return c, f.Err()
}

func (c *config) socketFrom(m yamlfile.Map) {
	setText(&c.Socket, m.Get("path"), maxPath)
	setText(&c.Group, m.Get("group"), maxName)
	if n := m.Get("group_may"); n.Present() {
		c.GroupMay = n.Choice("read", "command")
		if c.Group == "" {
			n.Fault("group_may without a group", "name the group that may use the socket")
		}
	}
}

func (c *config) telemetryFrom(m yamlfile.Map) {
	if n := m.Get("broker"); n.Present() {
		c.Broker = n.Text(maxPath)
		if err := checkBroker(c.Broker); err != nil {
			n.Fault(err.Error(), "write embedded, none, or an address like tls://broker.example:8883")
		}
	}
	foreign := c.Broker != brokerEmbedded && c.Broker != brokerNone
	for _, t := range []struct {
		key string
		to  *string
		of  bool // the key belongs to this kind of broker
	}{
		{"listen", &c.Listen, !foreign},
		{"reader", &c.Reader, !foreign},
		{"reader_password_file", &c.ReaderFile, !foreign},
		{"user", &c.User, foreign},
		{"password_file", &c.PasswordFile, foreign},
		{"ca_file", &c.CAFile, foreign},
	} {
		n := m.Get(t.key)
		setText(t.to, n, maxPath)
		if n.Present() && !t.of {
			n.Fault(fmt.Sprintf("%s has no meaning with broker %s", t.key, c.Broker), "remove it")
		}
	}
	if n := m.Get("every"); n.Present() {
		c.Every = n.Time(fastest, slowest)
	}
}

func setText(to *string, n yamlfile.Node, most int) {
	if n.Present() {
		*to = n.Text(most)
	}
}

// checkBroker says what is wrong with a broker's address.
func checkBroker(s string) error {
	if s == "" || s == brokerEmbedded || s == brokerNone {
		return nil
	}
	u, err := url.Parse(s)
	switch {
	case err != nil || u.Host == "":
		return fmt.Errorf("broker %q is no address", s)
	case u.User != nil:
		return errors.New("broker with a password in its address")
	case u.Port() == "":
		return fmt.Errorf("broker %q lacks its port", s)
	}
	switch u.Scheme {
	case "tcp", "tls":
		return nil
	}
	return fmt.Errorf("broker %q has the unknown scheme %q", s, u.Scheme)
}

// bytesOf reads an amount of storage like "20 GB", in powers of ten.
func bytesOf(n yamlfile.Node) int64 {
	const right = "write an amount like 500 MB or 20 GB, at least 3 MB"
	number, unit, _ := strings.Cut(n.Text(maxName), " ")
	v, err := strconv.ParseInt(number, 10, 32)
	scale := map[string]int64{"MB": 1e6, "GB": 1e9}[unit]
	if size := v * scale; err == nil && size >= minQuota && size <= maxQuota {
		return size
	}
	if n.Word() != "" {
		n.Fault(fmt.Sprintf("%s %q is no amount of storage that can be used", n.Name(), n.Word()), right)
	}
	return 0
}

// loadConfig reads the file, or gives the defaults when no file is named, and
// lays the flags over it.
func loadConfig(path string, flags globals) (config, error) {
	c := defaultConfig(os.Getenv)
	if path != "" {
		text, err := readFile(path)
		if err != nil {
			return c, fmt.Errorf("config: %w", err)
		}
		if c, err = parseConfig(path, text, c); err != nil {
			return c, err
		}
	}
	if flags.Data != "" {
		c.Data = flags.Data
	}
	if flags.Glasses != "" {
		c.Glasses = flags.Glasses
	}
	if flags.Socket != "" {
		c.Socket = flags.Socket
	}
	return c, nil
}

// readFile reads a file that a person wrote; a larger one is not read whole.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, yamlfile.MostBytes+1)) // one more, to be refused
}
