package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"pressrig/controller/loop"
	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// The desk takes the profile's rig only.
func TestDeskAcceptsTheRigOfTheProfileOnly(t *testing.T) {
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	limits := p.WardenConfig()
	good := rig.Capabilities{Protocol: wire.Version, Device: p.Device, Firmware: "mega2560 1 00000000",
		ConfigHash: wire.BlockHash(&limits, &p.Signals), Scale: 1, Session: 7}
	for _, c := range []struct {
		name   string
		change func(*rig.Capabilities)
		want   string
		limits bool // it asks which limits
	}{
		{"the rig", func(*rig.Capabilities) {}, "", false},
		{"another build", func(c *rig.Capabilities) { c.Firmware = "mega2560 9 ffffffff" }, "", false},
		{"another device", func(c *rig.Capabilities) { c.Device++ }, "device id", false},
		{"other limits", func(c *rig.Capabilities) { c.ConfigHash++ }, "pressrig flash", true},
	} {
		d := newDesk(p, nil, nil)
		caps := good
		c.change(&caps)
		err := d.accept(&caps)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.name, err, c.want)
		}
		if (len(d.otherLimits) == 1) != c.limits {
			t.Errorf("%s: asks for limits %v", c.name, !c.limits)
		}
	}
}

// The log names each limit that differs, once for each refusal, and ends with
// the daemon.
func TestOtherLimitsAreTold(t *testing.T) {
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	other := p.WardenConfig()
	other.PurgeMs += 1000
	other.ForceMaxDN++
	for _, c := range []struct {
		read func() (warden.Config, error)
		want []string
	}{
		{func() (warden.Config, error) { return other, nil }, []string{
			fmt.Sprintf("PurgeMs %d, wanted %d", other.PurgeMs, other.PurgeMs-1000), "ForceMaxDN 4001, wanted 4000"}},
		{func() (warden.Config, error) { return warden.Config{}, errors.New("not read") }, []string{"could not be read", "not read"}},
	} {
		synctest.Test(t, func(t *testing.T) {
			var out strings.Builder
			ctx, cancel := context.WithCancel(t.Context())
			refused, done := make(chan struct{}, 1), make(chan struct{})
			go func() {
				tellLimits(ctx, refused, c.read, p, zerolog.New(&out))
				close(done)
			}()
			refused <- struct{}{}
			<-time.After(2 * limitsLongest)
			cancel()
			<-done
			for _, want := range c.want {
				if strings.Count(out.String(), want) != 1 {
					t.Errorf("log %q has not once %q", out.String(), want)
				}
			}
			if strings.Contains(out.String(), "SpeedMax") {
				t.Errorf("log %q tells of a limit that is the same", out.String())
			}
		})
	}
}

// A board with a program that this one was never tested with is refused, unless
// the rig is simulated or its profile allows the build.
func TestAnotherBuildIsRefused(t *testing.T) {
	program, err := image.Board()
	if err != nil {
		t.Fatal(err)
	}
	ours := fmt.Sprintf("%08x", image.BuildHash(program))
	for _, c := range []struct {
		firmware  string
		simulated bool
		allowed   []uint32
		refused   string
	}{
		{"mega2560 1 " + ours, false, nil, ""},
		{"mega2560 9 " + ours, false, nil, ""}, // the build counts, not the number before it
		{"mega2560 1 0badf00d", false, nil, `firmware_builds: ["0badf00d"]`},
		{"mega2560 1 0badf00d", false, []uint32{7, 0x0badf00d}, ""},
		{"mega2560 1 0badf00d", false, []uint32{7}, "pressrig carries mega2560 build " + ours},
		{"mega2560 1 0badf00d", true, nil, ""},
		{"mega2560 1 0BADF00D", false, []uint32{0x0badf00d}, "without a build"},
		{"mega2560 1 " + ours + " x", false, nil, "without a build"},
		{"mega2560 not fitted", false, nil, "without a build"},
		{"other " + ours, false, nil, "pressrig flash"}, // says the carried build, is no such board
		{"other 1 0badf00d", false, []uint32{0x0badf00d}, ""},
		{"bench", false, nil, "without a build"},
		{"bench", true, nil, ""},
		{"", false, nil, "without a build"},
	} {
		p, err := rig.Builtin("driven")
		if err != nil {
			t.Fatal(err)
		}
		p.Simulated, p.Builds = c.simulated, c.allowed
		limits := p.WardenConfig()
		err = newDesk(p, nil, nil).accept(&rig.Capabilities{Protocol: wire.Version, Device: p.Device, Firmware: c.firmware,
			ConfigHash: wire.BlockHash(&limits, &p.Signals), Scale: 1, Session: 7})
		if (err == nil) != (c.refused == "") || err != nil && !strings.Contains(err.Error(), c.refused) {
			t.Errorf("%q, simulated %v, allowed %x: %v; want %q", c.firmware, c.simulated, c.allowed, err, c.refused)
		}
	}
}

// What is taken all the same is told in the log: a board's, not a bench's.
func TestAnotherBuildIsTold(t *testing.T) {
	program, err := image.Board()
	if err != nil {
		t.Fatal(err)
	}
	for firmware, warns := range map[string]bool{
		fmt.Sprintf("mega2560 1 %08x", image.BuildHash(program)): false,
		"mega2560 1 00000000": true,
		"bench":               false,
	} {
		var out strings.Builder
		noteLog(zerolog.New(&out))(loop.Note{Kind: loop.NoteLinkUp, Caps: rig.Capabilities{Firmware: firmware}})
		if strings.Contains(out.String(), "nobody tested it") != warns {
			t.Errorf("%s: %s", firmware, out.String())
		}
	}
}
