//go:build linux && processes && avr

package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
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
	elf        = flag.String("elf", "", "linked image to test; the one of make firmware without")
	imageKills = flag.Int("image-kills", 3, "how many cycles of the image are killed at random moments")
	emulation  = flag.Int("emulated", 3, "emulated rigs at the same time; each takes up to half a core")
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

// imageFaults is everything that the process tests do to a rig. The demonstration
// is missing: it brings a rig of its own within the program.
func imageFaults() map[string]func(*testing.T) {
	all := map[string]func(*testing.T){
		"undisturbed cycle": func(t *testing.T) { wholeCycle(t, newImageStand) },
		"thermometer stuck": func(t *testing.T) { thermometerStuck(t, newImageStand) },
		"killed at random":  killedAtRandom,
		"proofs, a leak":    func(t *testing.T) { provesWithProcesses(t, newImageStand) },
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

// killedAtRandom is TestKilledAtRandomMoments on one rig.
func killedAtRandom(t *testing.T) {
	l := &toll{states: map[string]int{}}
	defer func() { l.tell(t) }()
	killAgainAndAgain(t, newImageStand, rand.New(rand.NewPCG(*seed, lanes)), *imageKills, l)
}
