package campaign

import (
	"fmt"
)

// dice are the random numbers of one seed (SplitMix64, Steele, Lea and Flood
// 2014; constants from memory).
type dice uint64

func (d *dice) roll(n int) int {
	*d += 0x9E3779B97F4A7C15
	z := uint64(*d)
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return int((z ^ z>>31) % uint64(n))
}

func pick[T any](d *dice, from []T) T { return from[d.roll(len(from))] }

// faultWords are what goes wrong for a while in a random run; what the table of
// provocations has is added for good.
var faultWords = []string{
	"stuck estop_ok off", "stuck door_closed off", "stuck flame on", "stuck flame off", "stuck extraction off",
	"stuck press_open off", "stuck press_open on", "stuck burner_clear off", "stuck burner_clear on",
	"stuck burner_at_blank on", "stuck burner_at_blank off", "stuck fuel_shut off", "stuck oxygen_shut off",
	"stuck press_end on", "stuck over_force on", "stuck flashback on", "stuck set_up on", "stuck start on",
	"stuck glass", "lost glass", "noisy glass 60 K", "offset glass 40 K", "stuck force", "lost force",
	"stuck travel", "lost travel", "lost spindle", "offset spindle 5 rpm", "flame_out", "igniter_dead",
	"fuel1_stuck_open", "oxygen_stuck_open", "fuel_pressure 20 %", "fuel_pressure 250 %", "oxygen_pressure 20 %",
	"extraction_fail", "glass_stuck", "spindle_stall", "press_jam", "slide_jam", "mcu_reset", "nv_dead",
	"line_flip 1 %", "line_drop 60 %", "line_repeat 50 %", "line_swap 20 %", "line_delay 250 ms", "line_cut",
	"press SOFT", "press START", "press RESET", "press OPEN", "press CLOSE",
}

var commandWords = []string{"hold", "hold", "pause", "resume", "stop", "abort", "restart", "restart", "reset"}

// Random is a compound run: two to five faults, some for a while and some for
// good, and up to three commands, at random moments on a random rig.
func Random(seed uint64) Case {
	d := dice(seed)
	// Most runs are on a rig with a brisk recipe; most begins before contact.
	s := Script{Rig: pick(&d, []string{"driven", "driven", "driven", "turning", "turning", "stem", "weights", "by-eye"}),
		Seed: seed}
	most := 150_000
	if d.roll(10) != 0 { // one in ten waits for purge and post-purge as a rig does
		s.Rig += short
		most = 90_000
	}
	when := func() uint64 { return startMs + uint64(d.roll(most)) }
	near := when() // half of what happens, happens together
	moment := func() uint64 {
		if d.roll(2) == 0 {
			return near + uint64(d.roll(2000))
		}
		return when()
	}
	for range 2 + d.roll(4) {
		if d.roll(4) == 0 {
			s.add(moment(), wordProvoke+" "+pick(&d, provocations[:]).name)
			continue
		}
		s.add(moment(), fmt.Sprintf("%s %s for %d ms", wordFault, pick(&d, faultWords), 20+d.roll(20_000)))
	}
	for range d.roll(4) {
		s.add(moment(), wordCommand+" "+pick(&d, commandWords))
	}
	if d.roll(3) == 0 {
		at := moment()
		s.add(at, wordAck)
		s.add(at+200, wordReset)
		s.add(at+200, "command reset")
	}
	return Case{Name: fmt.Sprintf("random %d", seed), Script: s}
}
