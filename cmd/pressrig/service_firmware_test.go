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

	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// The desk takes the profile's rig only, whatever its program's build is.
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

func TestOtherBuildIsToldNotRefused(t *testing.T) {
	program, err := image.Board()
	if err != nil {
		t.Fatal(err)
	}
	for name, warns := range map[string]bool{
		fmt.Sprintf("mega2560 1 %08x", image.BuildHash(program)): false,
		"mega2560 1 00000000": true,
		"simulated rig":       false,
	} {
		if why := otherBuild(name); (why != "") != warns {
			t.Errorf("%s: %q", name, why)
		}
	}
}
