package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// How long the limits of a refused board may take to come over the line: 20
// pieces a second, and the line may be bad.
const (
	limitsLook    = 100 * time.Millisecond
	limitsLongest = 6 * time.Second
)

// tellLimits says which limits of a refused board differ from the profile's,
// each time that one was refused for them.
func tellLimits(ctx context.Context, refused <-chan struct{}, read func() (warden.Config, error), p *rig.Profile, log zerolog.Logger) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-refused:
		}
		look, cancel := context.WithTimeout(ctx, limitsLongest)
		have, err := readLimits(look, read)
		cancel()
		if err != nil {
			log.Warn().Err(err).Msg("the limits of the refused board could not be read")
			continue
		}
		want := p.WardenConfig()
		differ := wire.ConfigDiffers(&have, &want)
		if len(differ) == 0 {
			log.Error().Msg("the limits of the refused board are the profile's, the scaling of its signals is not; " +
				"write the profile to the board with pressrig flash, or correct signals in the profile")
			continue
		}
		log.Error().Str("differ", strings.Join(differ, "; ")).
			Msg("the limits of the refused board differ from the profile's; the daemon cannot change them")
	}
}

// readLimits waits until the port has read the configuration.
func readLimits(ctx context.Context, read func() (warden.Config, error)) (warden.Config, error) {
	tick := time.NewTicker(limitsLook)
	defer tick.Stop()
	for {
		c, err := read()
		if err == nil {
			return c, nil
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return c, err
		}
	}
}

// otherBuild compares the program that a board says it runs with the one that
// this program carries and is tested with, "" when they are the same.
func otherBuild(firmware string) (string, error) {
	program, err := image.Board()
	if err != nil {
		return "", err
	}
	ours := image.BuildHash(program)
	if theirs, ok := buildOf(firmware); ok && theirs == ours && strings.HasPrefix(firmware, boardName) {
		return "", nil
	}
	return fmt.Sprintf("the board runs %q, pressrig carries %sbuild %08x", firmware, boardName, ours), nil
}

// buildOf is the build that ends a firmware's name.
func buildOf(firmware string) (uint32, bool) {
	return rig.ParseBuild(firmware[strings.LastIndex(firmware, " ")+1:])
}

// refuseBuild says why a board with another build is not taken. On a simulated
// rig nothing can be hurt, and a profile may allow builds by their hash.
func refuseBuild(firmware string, p *rig.Profile) error {
	why, err := otherBuild(firmware)
	if err != nil || why == "" || p.Simulated {
		return err
	}
	theirs, ok := buildOf(firmware)
	switch {
	case !ok:
		return fmt.Errorf("%s; a name without a build cannot be allowed: write the carried one to the board with "+
			"pressrig flash", why)
	case slices.Contains(p.Builds, theirs):
		return nil
	}
	return fmt.Errorf("%s; write the carried one to the board with pressrig flash, or allow the board's in the profile "+
		"(firmware_builds: [\"%08x\"]) and commission the rig with it", why, theirs)
}

// boardName begins the firmware's name of the board that pressrig flashes.
const boardName = "mega2560 "
