package telemetry

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"pressrig/controller"
)

// These tests talk over real sockets to Debian's mosquitto, an independent
// implementation of MQTT 3.1.1. It must be installed: what was only tried
// against our own embedded broker is not known to work in a shop.

func mosquittoPath(t *testing.T) string {
	t.Helper()
	if path, err := exec.LookPath("mosquitto"); err == nil {
		return path
	}
	const debian = "/usr/sbin/mosquitto"
	if _, err := os.Stat(debian); err != nil {
		t.Fatal("mosquitto is missing; run: apt-get install -y mosquitto")
	}
	return debian
}

// mosquitto runs the broker on a free loopback port with more lines of
// configuration, until the test ends or the returned function is called.
func mosquitto(t *testing.T, address string, lines ...string) (stop func()) {
	t.Helper()
	_, port, _ := net.SplitHostPort(address)
	// set_tcp_nodelay: without it acknowledgements stall by 40 ms.
	conf := append([]string{"listener " + port + " 127.0.0.1", "allow_anonymous true",
		"set_tcp_nodelay true", "persistence false", "user root"}, lines...)
	path := filepath.Join(t.TempDir(), "mosquitto.conf")
	write(t, path, []byte(strings.Join(conf, "\n")+"\n"))
	cmd := exec.Command(mosquittoPath(t), "-v", "-c", path)
	stderr, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ready, ended := make(chan bool), make(chan struct{})
	go func() {
		defer close(ended)
		said := false
		for in := bufio.NewScanner(stderr); in.Scan(); {
			if !said && strings.Contains(in.Text(), "running") {
				said = true
				ready <- true
			}
		}
		if !said {
			ready <- false
		}
	}()
	if !<-ready {
		t.Fatal("mosquitto did not start")
	}
	stopped := false
	stop = func() {
		if !stopped {
			stopped = true
			_ = cmd.Process.Kill()
			<-ended
			_ = cmd.Wait()
		}
	}
	t.Cleanup(stop)
	return stop
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func write(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

func dialTCP(ctx context.Context, network, address string) (net.Conn, error) {
	return (&net.Dialer{}).DialContext(ctx, network, address)
}

func tcpOptions(t *testing.T, url string) Options {
	return Options{Rig: "bench", Dir: t.TempDir(), URL: url, CauseText: testCause,
		RetryFirst: 20 * time.Millisecond, RetryLongest: 200 * time.Millisecond, Log: zerolog.Nop()}
}

func TestMosquittoGetsEverything(t *testing.T) {
	address := freeAddress(t)
	mosquitto(t, address)
	sub := subscribe(t, dialTCP, address)
	tel := start(t, tcpOptions(t, "tcp://"+address))
	sub.nextWith(t, "status", `"online"`)
	tel.Tell(&controller.Status{State: controller.Idle, Phase: -1}, hotSnapshot())
	sub.nextWith(t, "channels", `"glass_C":780.4`)
	sub.nextWith(t, "state", `"state":"idle"`)
	endCycle(tel, 5)
	sub.nextWith(t, "phase", `"phase":"form"`)
	sub.nextWith(t, "cycle", `"cycle":5`)
	late := subscribe(t, dialTCP, address) // gets what is retained
	for _, name := range []string{"status", "state"} {
		if m := late.next(t, name); !m.retained {
			t.Errorf("%s is not retained", name)
		}
	}
	tel.Close()
	sub.nextWith(t, "status", `"offline","why":"closed"`)
}

func TestMosquittoKilledAndBack(t *testing.T) {
	address := freeAddress(t)
	stop := mosquitto(t, address)
	log := newLogged()
	o := tcpOptions(t, "tcp://"+address)
	o.Log = zerolog.New(log)
	var cut atomic.Bool // from the kill on, the daemon waits for the reader to be there first
	back := make(chan struct{})
	o.Dial = func(ctx context.Context, network, address string) (net.Conn, error) {
		if cut.Load() {
			select {
			case <-back:
			case <-ctx.Done():
				return nil, ctx.Err()
			}
		}
		return dialTCP(ctx, network, address)
	}
	tel := start(t, o)
	log.wait(t, "telemetry connected")
	cut.Store(true)
	stop()
	log.wait(t, "telemetry has no broker")
	for i := range uint32(20) {
		endCycle(tel, 1+i)
	}
	mosquitto(t, address)
	sub := subscribe(t, dialTCP, address)
	close(back)
	for i := range 20 {
		sub.nextWith(t, "cycle", fmt.Sprintf(`"cycle":%d,`, 1+i))
	}
}

// SV-063 against an independent broker.
func TestSV063MosquittoCommandsAreIgnored(t *testing.T) {
	address := freeAddress(t)
	mosquitto(t, address)
	sub := subscribe(t, dialTCP, address)
	topic := DefaultPrefix + "/bench/command"
	sub.publish(t, topic, true, "start")
	log := newLogged()
	o := tcpOptions(t, "tcp://"+address)
	o.Log = zerolog.New(log)
	start(t, o)
	log.wait(t, "ignored: retained")
	sub.publish(t, topic, false, "start")
	log.wait(t, "ignored: commands are not accepted over MQTT")
}

func TestMosquittoRefusesTheLogin(t *testing.T) {
	address := freeAddress(t)
	mosquitto(t, address, "allow_anonymous false")
	log := newLogged()
	o := tcpOptions(t, "tcp://"+address)
	o.User, o.Password, o.Log = "u", "wrong", zerolog.New(log)
	tel := start(t, o)
	line := log.wait(t, "telemetry has no broker")
	if !strings.Contains(strings.ToLower(line), "authori") {
		t.Errorf("log does not say that the login was refused: %s", line)
	}
	if tel.Health().Connected {
		t.Error("connected")
	}
}

func TestMosquittoOverTLS(t *testing.T) {
	address := freeAddress(t)
	dir := t.TempDir()
	makeCertificates(t, dir)
	mosquitto(t, address, "certfile "+filepath.Join(dir, "server.pem"),
		"keyfile "+filepath.Join(dir, "server.key"))

	o := tcpOptions(t, "tls://"+address)
	o.CAFile = filepath.Join(dir, "ca.pem")
	log := newLogged()
	o.Log = zerolog.New(log)
	tel := start(t, o)
	log.wait(t, "telemetry connected")
	tel.Close()

	// Without the authority the broker is a stranger and gets no password.
	o = tcpOptions(t, "tls://"+address)
	log = newLogged()
	o.Log = zerolog.New(log)
	start(t, o)
	if line := log.wait(t, "telemetry has no broker"); !strings.Contains(line, "certificate") {
		t.Errorf("log does not name the certificate: %s", line)
	}
}

// makeCertificates writes an authority and a server certificate for 127.0.0.1.
func makeCertificates(t *testing.T, dir string) {
	t.Helper()
	ca := &x509.Certificate{SerialNumber: big.NewInt(1),
		Subject:   pkix.Name{CommonName: "test authority"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	caKey := newKey(t)
	writePEM(t, filepath.Join(dir, "ca.pem"), "CERTIFICATE", sign(t, ca, ca, caKey, caKey))
	server := &x509.Certificate{SerialNumber: big.NewInt(2),
		Subject:   pkix.Name{CommonName: "test broker"},
		NotBefore: ca.NotBefore, NotAfter: ca.NotAfter, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	key := newKey(t)
	writePEM(t, filepath.Join(dir, "server.pem"), "CERTIFICATE", sign(t, server, ca, key, caKey))
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	writePEM(t, filepath.Join(dir, "server.key"), "PRIVATE KEY", der)
}

func newKey(t *testing.T) *ecdsa.PrivateKey {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func sign(t *testing.T, cert, by *x509.Certificate, key, byKey *ecdsa.PrivateKey) []byte {
	t.Helper()
	der, err := x509.CreateCertificate(rand.Reader, cert, by, &key.PublicKey, byKey)
	if err != nil {
		t.Fatal(err)
	}
	return der
}

func writePEM(t *testing.T, path, kind string, der []byte) {
	t.Helper()
	write(t, path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}))
}

// The default: the embedded broker on a loopback socket.
func TestEmbeddedBrokerOnASocket(t *testing.T) {
	o := tcpOptions(t, "")
	o.Listen = "127.0.0.1:0"
	tel := start(t, o)
	sub := subscribe(t, dialTCP, tel.Address())
	sub.nextWith(t, "status", `"online"`)
	endCycle(tel, 1)
	sub.nextWith(t, "cycle", `"cycle":1`)
	o.Listen, o.Dir = tel.Address(), t.TempDir()
	if _, err := New(o); err == nil || !strings.Contains(err.Error(), "embedded broker") {
		t.Errorf("address in use: %v", err)
	}
	// What a reader publishes is acknowledged and goes nowhere.
	sub.publish(t, DefaultPrefix+"/bench/state", true, "false news")
	for i := range uint32(3) {
		endCycle(tel, 2+i)
		sub.nextWith(t, "state", fmt.Sprintf(`"cycle":%d,`, 2+i))
	}
	for _, m := range sub.passed {
		if string(m.payload) == "false news" {
			t.Error("a reader's publish arrived")
		}
	}
	if n := tel.broker.Counts().Publishes; n != 1 {
		t.Errorf("%d publishes by readers refused, want 1", n)
	}
}
