package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"pressrig/rig"
)

func noEnv(string) string { return "" }

func TestConfigReadsAllItsKeys(t *testing.T) {
	text := `data: /srv/press
glasses: /srv/press/glasses
socket:
  path: /srv/press/socket
  group: lathe
  group_may: command
telemetry:
  broker: tls://broker.example:8883
  user: lathe-1
  password_file: /srv/press/secret
  ca_file: /srv/press/ca.pem
  every: 250 ms
log: debug
journal:
  quota: 20 GB
`
	got, err := parseConfig("pressrig.yaml", []byte(text), defaultConfig(noEnv))
	if err != nil {
		t.Fatal(err)
	}
	want := config{Data: "/srv/press", Glasses: "/srv/press/glasses", Socket: "/srv/press/socket", Group: "lathe",
		GroupMay: "command", Broker: "tls://broker.example:8883", Listen: "127.0.0.1:1883",
		User: "lathe-1", PasswordFile: "/srv/press/secret", CAFile: "/srv/press/ca.pem",
		Every: 250 * time.Millisecond, Level: zerolog.DebugLevel, Quota: 20_000_000_000}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestConfigKeepsTheDefaultsOfWhatItDoesNotSay(t *testing.T) {
	want := defaultConfig(noEnv)
	want.Level = zerolog.WarnLevel
	got, err := parseConfig("pressrig.yaml", []byte("log: warn\n"), defaultConfig(noEnv))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestConfigSaysWhereAndWhatWouldBeRight(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"unknown key", "dta: x\n", "c:1:1: unknown key \"dta\"; known here: data, glasses, socket"},
		{"level", "log: loud\n", "c:1:6: log is \"loud\"; write debug, info, warn or error"},
		{"bare time", "telemetry:\n  every: 5\n", "c:2:10: every: "},
		{"too often", "telemetry:\n  every: 10 ms\n", "c:2:10: every is 10 ms; write 100 ms to"},
		{"broker", "telemetry:\n  broker: broker.example\n",
			"c:2:11: broker \"broker.example\" is no address"},
		{"scheme", "telemetry:\n  broker: http://a:1\n",
			"c:2:11: broker \"http://a:1\" has the unknown scheme"},
		{"no port", "telemetry:\n  broker: tcp://a\n", "c:2:11: broker \"tcp://a\" lacks its port"},
		{"password shown", "telemetry:\n  broker: tcp://me:secret@a:1\n",
			"c:2:11: broker with a password in its address"},
		{"listen elsewhere", "telemetry:\n  broker: tcp://a:1\n  listen: :1883\n",
			"c:3:11: listen has no meaning with broker tcp://a:1; remove it"},
		{"user of our own", "telemetry:\n  user: x\n",
			"c:2:9: user has no meaning with broker embedded; remove it"},
		{"group", "socket:\n  group_may: read\n", "c:2:14: group_may without a group"},
		{"group may", "socket:\n  group: g\n  group_may: all\n", "c:3:14: group_may is \"all\""},
		{"quota unit", "journal:\n  quota: 20 bananas\n", "c:2:10: quota \"20 bananas\" is no amount"},
		{"quota bare", "journal:\n  quota: 20\n", "c:2:10: quota is 20, which is no text"},
		{"quota small", "journal:\n  quota: 2 MB\n", "c:2:10: quota \"2 MB\" is no amount"},
		{"quota huge", "journal:\n  quota: 9000000 GB\n", "c:2:10: quota \"9000000 GB\" is no amount"},
		{"quota overflow", "journal:\n  quota: 99999999999 GB\n", "c:2:10: quota"},
		{"list", "- a\n", "c:1:1: the file is a list; write keys with values"},
		{"empty", "", "c:1:1: file is empty"},
	}
	for _, c := range cases {
		_, err := parseConfig("c", []byte(c.text), defaultConfig(noEnv))
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s:\n got  %v\n want %s...", c.name, err, c.want)
		}
		if err != nil && strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: the message shows the password: %v", c.name, err)
		}
	}
}

func TestConfigLimitsOnBothSides(t *testing.T) {
	cases := []struct {
		text string
		good bool
	}{
		{"telemetry:\n  every: 100 ms\n", true}, {"telemetry:\n  every: 99 ms\n", false},
		{"telemetry:\n  every: 100 s\n", true}, {"telemetry:\n  every: 101 s\n", false},
		{"journal:\n  quota: 3 MB\n", true},
		{"data: " + strings.Repeat("x", maxPath-5) + "\n", false}, // the line is too long as well
		{"data: " + strings.Repeat("x", maxPath-6) + "\n", true},
	}
	for _, c := range cases {
		_, err := parseConfig("c", []byte(c.text), defaultConfig(noEnv))
		if (err == nil) != c.good {
			t.Errorf("%.40q: %v, want good %v", c.text, err, c.good)
		}
	}
}

// Whatever the bytes, the config reader gives a config or says why not.
func FuzzConfig(f *testing.F) {
	f.Add([]byte("data: x\njournal:\n  quota: 3 MB\n"))
	f.Add([]byte("telemetry: {broker: \"tcp://a:1\", every: 1 s}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := parseConfig("c", text, defaultConfig(noEnv))
		if err != nil {
			return
		}
		if c.Every < fastest || c.Every > slowest || c.Quota < 0 || c.Quota > maxQuota {
			t.Errorf("out of its limits: %+v", c)
		}
		if err := checkBroker(c.Broker); err != nil {
			t.Errorf("a broker that cannot be used was taken: %v", err)
		}
	})
}

func TestFlagsStandOverTheConfigFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pressrig.yaml")
	writeFile(t, path, "data: from-file\nsocket: {path: from-file}\n")
	c, err := loadConfig(path, globals{Data: "from-flag"})
	if err != nil || c.Data != "from-flag" || c.Socket != "from-file" {
		t.Errorf("data %q, socket %q, %v", c.Data, c.Socket, err)
	}
	if _, err := loadConfig(path+"x", globals{}); err == nil {
		t.Error("a config that is not there was taken")
	}
}

func writeFile(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestServeCheck(t *testing.T) {
	dir := t.TempDir()
	good, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	paths := map[string]string{
		"good.yaml":      string(good),
		"impossible":     strings.Replace(string(good), "fuel: propane", "fuel: acetylene", 1),
		"bad.yaml":       "rig: [\n",
		"config.yaml":    "log: info\n",
		"badconfig.yaml": "log: loud\n",
	}
	for name, text := range paths {
		writeFile(t, filepath.Join(dir, name), text)
	}
	cases := []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--rig", "good.yaml"}, exitDone, "no problems"},
		{[]string{"--rig", "good.yaml", "--config", "config.yaml"}, exitDone, "no problems"},
		{[]string{"--rig", "good.yaml", "--config", "badconfig.yaml"}, exitFailed,
			"badconfig.yaml:1:6: log"},
		{[]string{"--rig", "impossible"}, exitFailed, "acetylene"},
		{[]string{"--rig", "bad.yaml"}, exitFailed, "bad.yaml:1:"},
		{[]string{"--rig", "bad.yaml", "--config", "badconfig.yaml"}, exitFailed, "badconfig.yaml:1:6"},
		{[]string{"--rig", "absent.yaml"}, exitFailed, "absent.yaml"},
		{nil, exitUsage, "--rig"},
	}
	for _, c := range cases {
		args := []string{"serve", "--check"}
		for _, a := range c.args {
			if !strings.HasPrefix(a, "--") {
				a = filepath.Join(dir, a)
			}
			args = append(args, a)
		}
		var out, errOut bytes.Buffer
		code := run(args, strings.NewReader(""), &out, &errOut)
		if code != c.code || !strings.Contains(out.String()+errOut.String(), c.says) {
			t.Errorf("%v: exit code %d, %s%s; want %d and %q", c.args, code, &out, &errOut, c.code, c.says)
		}
	}
}

func TestExitCodesAndUsage(t *testing.T) {
	cases := []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--help"}, exitDone, "no safety device"},
		{[]string{"serve", "--help"}, exitDone, "Rig profile"},
		{[]string{"bench", "--help"}, exitDone, "flame_out"},
		{nil, exitUsage, "pressrig --help"},
		{[]string{"serv"}, exitUsage, "serv"},
		{[]string{"status", "--colour"}, exitUsage, "--colour"},
		{[]string{"bench"}, exitUsage, "--port-link"},
		{[]string{"bench", "--port-link", "x", "--speed", "0"}, exitUsage, "--speed"},
		{[]string{"bench", "--port-link", "x", "--fault", "gremlins"}, exitUsage, "gremlins"},
		{[]string{"demo", "--speed", "61"}, exitUsage, "between 1 and 60"},
	}
	for _, c := range cases {
		var out, errOut bytes.Buffer
		code := run(c.args, strings.NewReader(""), &out, &errOut)
		if code != c.code || !strings.Contains(out.String()+errOut.String(), c.says) {
			t.Errorf("%v: exit code %d, %s%s; want %d and %q", c.args, code, &out, &errOut, c.code, c.says)
		}
	}
}
