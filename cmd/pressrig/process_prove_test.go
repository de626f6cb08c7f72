//go:build linux && processes

package main

import (
	"fmt"
	"io"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"pressrig/rig"
)

// proveSpeed leaves a person's hands at the rig some real time.
const proveSpeed = 10

// Rig, daemon and `pressrig prove` as three processes, a person at a pipe: the
// healthy rig passes every proof that it is fitted for, and with a leaking
// valve that valve's alone fails and no cycle is armed any more.
func TestProveWithProcesses(t *testing.T) { provesWithProcesses(t, newStand) }

func provesWithProcesses(t *testing.T, newStand standMaker) {
	s := newStand(t, proveSpeed, noBroker)
	got := s.prove()
	for _, function := range rig.ProofFunctions() {
		if !strings.HasPrefix(got[function], "passed") {
			t.Errorf("%s: %q", function, got[function])
		}
	}
	s.do("fault fuel1_leaks 0.02 L/min")
	if got := s.prove("fuel_valve_1"); !strings.HasPrefix(got["fuel_valve_1"], "failed, 0.1") {
		t.Errorf("a leaking valve: %q", got)
	}
	s.refuses("fuel_valve_1 failed its proof test")
	s.commandLine("", "prove", "--list").wants(t, exitDone, "fuel_valve_1", "failed on", "by Ada", "no safety device")
	s.commandLine("", "status").wants(t, exitDone, "pressrig prove fuel_valve_1")
	s.commandLine("", "journal", "proofs", "--csv").wants(t, exitDone, ",fuel_valve_1,bench-driven,", ",failed,")
	s.commandLine("", "journal", "check").wants(t, exitDone, "no problems",
		fmt.Sprintf("%d proofs", len(rig.ProofFunctions())+1))
}

// prove runs the command with a person at rig and keyboard, and returns how
// each proof ended.
func (s *stand) prove(names ...string) map[string]string {
	s.t.Helper()
	cmd := exec.Command(program, append([]string{"prove", "--by", "Ada", "--socket", s.path("daemon")}, names...)...)
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	out := &saidText{}
	cmd.Stdout, cmd.Stderr = out, out
	keys, err := cmd.StdinPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		s.t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = cmd.Wait() // its rows tell how it ended
	}()
	p := &provePerson{t: s.t, client: s.client, do: func(line string) { s.ask(line) }, truth: s.truth,
		keys: func(line string) {
			_, _ = io.WriteString(keys, line+"\n") // the command may have ended
		}}
	p.talk(out.String, ended)
	_ = cmd.Process.Kill() // ended already, but for a test that failed
	<-ended
	s.t.Log(out.String())
	return rows(out.String())
}
