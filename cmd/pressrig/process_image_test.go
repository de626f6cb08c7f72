//go:build linux && processes && avr

package main

import (
	"flag"
	"fmt"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"pressrig/firmware/emulated"
)

// The faults of the process tests once more, with the microcontroller's real
// image, in an emulated ATmega2560, in the place of the simulated one. It has
// the clock of a board, so that everything takes the time that it takes.

var (
	elf       = flag.String("elf", "", "linked image to test; the one of make firmware without")
	emulation = flag.Int("emulated", 3, "emulated rigs at the same time; each takes up to half a core")
)

// imagePatience bounds a wait: a cycle takes four minutes.
const imagePatience = 10 * time.Minute

// emulatedRig is built once: the rig's program and its first words.
var emulatedRig = sync.OnceValues(func() ([]string, error) {
	dir := filepath.Dir(program)
	rig, board, image := filepath.Join(dir, "rig"), filepath.Join(dir, "board"), *elf
	if image == "" {
		image = filepath.Join(dir, "mega2560.elf")
		if out, err := exec.Command("make", "-s", "-C", "../..", "firmware", "ELF="+image).CombinedOutput(); err != nil {
			return nil, fmt.Errorf("make firmware: %w\n%s", err, out)
		}
	}
	if out, err := exec.Command("go", "build", "-o", rig, "../../firmware/emulated/rig").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("build the emulated rig: %w\n%s", err, out)
	}
	if err := emulated.Build("../../firmware/emulated/sim", board); err != nil {
		return nil, err
	}
	return []string{rig, "--emulator", board, "--image", image}, nil
})

// newImageStand is newStand with the image, at the speed of a board.
func newImageStand(t *testing.T, _ int, config string) *stand {
	t.Helper()
	words, err := emulatedRig()
	if err != nil {
		t.Fatal(err)
	}
	s := standOf(t, 1, config, imagePatience, words...)
	s.lateMs = 1
	return s
}

// imageFaults is the list of the process tests, and the undisturbed cycle.
func imageFaults() map[string]func(*testing.T) {
	all := map[string]func(*testing.T){
		"undisturbed cycle": imageCycle,
		"thermometer stuck": func(t *testing.T) { thermometerStuck(t, newImageStand) },
		"daemon killed":     func(t *testing.T) { killedDaemon(t, newImageStand) },
		"board's power cut": func(t *testing.T) { killedBench(t, newImageStand) },
		"daemon stopped":    func(t *testing.T) { stoppedDaemon(t, newImageStand) },
		"broker killed":     func(t *testing.T) { brokerKilled(t, newImageStand) },
		"journal full":      func(t *testing.T) { journalFull(t, newImageStand) },
	}
	for i := range trips {
		all[trips[i].name] = func(t *testing.T) { trips[i].run(t, newImageStand(t, 1, noBroker)) }
	}
	return all
}

// TestImageWithTheDaemon plays them, some at the same time.
func TestImageWithTheDaemon(t *testing.T) {
	turn := make(chan struct{}, *emulation)
	for name, play := range imageFaults() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			turn <- struct{}{}
			defer func() { <-turn }()
			play(t)
		})
	}
}

// imageCycle: a whole cycle of the real daemon through the pseudo-terminal, from
// hello to the journal.
func imageCycle(t *testing.T) {
	s := newImageStand(t, 1, noBroker)
	f, err := s.client.Status(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	n := s.press()
	if c := s.ends(n); c.State != "complete" || c.Cause != 0 || len(c.Phases) < 10 {
		t.Errorf("cycle is %s (%s), first cause %d, %d phases", c.State, c.Reason, c.Cause, len(c.Phases))
	}
	if now := s.safe(); now.WorstMs > 4000 { // invariant 3
		t.Errorf("%d ms of unburnt fuel in 30 s", now.WorstMs)
	}
	s.sound(n)
	s.commandLine("", "status").wants(t, exitDone)
	t.Logf("status at first: %+v", f.Status)
	s.closes()
}
