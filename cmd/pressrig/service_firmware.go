package main

import (
	"context"
	"fmt"
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
// this daemon carries. Both may be good, so that it is a warning only.
func otherBuild(firmware string) string {
	program, err := image.Board()
	if err != nil || !strings.HasPrefix(firmware, boardName) {
		return ""
	}
	if ours := fmt.Sprintf("%08x", image.BuildHash(program)); !strings.HasSuffix(firmware, " "+ours) {
		return fmt.Sprintf("the board runs %q, this daemon carries build %s", firmware, ours)
	}
	return ""
}

// boardName begins the firmware's name of the board that pressrig flashes.
const boardName = "mega2560 "
