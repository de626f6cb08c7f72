package main

import (
	"io"
	"os"
	"strings"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/rs/zerolog"
	"github.com/rs/zerolog/diode"

	"pressrig/controller/loop"
)

// logQueue is how many log lines wait for a slow terminal or a full pipe; then
// the oldest are dropped and counted. The control path logs too, so it must
// never wait for whoever reads the log.
const logQueue = 1024

// newLog makes the daemon's log on w: for people when w is a terminal, JSON
// otherwise. Nothing that logs ever waits; close writes what is queued.
func newLog(w io.Writer, level zerolog.Level) (log zerolog.Logger, closeLog func()) {
	if onTerminal(w) {
		w = zerolog.ConsoleWriter{Out: w, TimeFormat: time.TimeOnly}
	}
	queue := diode.NewWriter(keepOpen{w}, logQueue, 0, func(missed int) {
		log.Warn().Int("lines", missed).Msg("log lines were dropped: whoever reads the log is too slow")
	})
	log = zerolog.New(queue).Level(level).With().Timestamp().Logger()
	return log, func() { _ = queue.Close() } // keepOpen's Close cannot fail
}

// keepOpen hides Close of the standard streams, which are not ours to close.
type keepOpen struct{ io.Writer }

// onTerminal reports whether w shows on a terminal.
func onTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && isatty.IsTerminal(f.Fd())
}

// noteLog turns the loop's notes into log lines.
func noteLog(log zerolog.Logger) func(loop.Note) {
	return func(n loop.Note) {
		if n.LeftOut > 0 {
			log.Warn().Uint8("kind", uint8(n.Kind)).Uint32("left_out", n.LeftOut).Msg("so many notes like the next one were left out")
		}
		switch n.Kind {
		case loop.NoteLinkUp:
			log.Info().Str("firmware", n.Caps.Firmware).Uint32("session", n.Caps.Session).
				Uint16("device", n.Caps.Device).Uint16("scale", n.Caps.Scale).Msg("the rig answers")
			if why, err := otherBuild(n.Caps.Firmware); err == nil && why != "" && strings.HasPrefix(n.Caps.Firmware, boardName) {
				log.Warn().Str("why", why).Msg("another build of the firmware, which the profile allows; " +
					"nobody tested it with this program but you")
			}
		case loop.NoteLinkDown:
			log.Warn().Err(n.Err).Msg("the line to the rig is down; it is tried again by itself")
		case loop.NoteRefused:
			log.Error().Err(n.Err).Uint16("device", n.Caps.Device).
				Msg("this is not the rig of the profile; nothing is sent to it")
		case loop.NoteWallClock:
			log.Warn().Dur("by", n.By).Msg("the wall clock was set; the running cycle does not follow it")
		case loop.NoteEvent:
			log.Info().Uint16("event", n.Event).Uint32("value", n.Value).
				Msg("the microcontroller tells of an event")
		case loop.NoteSend:
			log.Warn().Err(n.Err).Msg("the port takes no requests")
		case loop.NoteNoisy:
			log.Error().Msg("too many corrupt frames from the rig (3 in 1 s, or 10 in 6 min): look at cable and earth")
		case loop.NotePanic:
			log.Error().Err(n.Err).Bytes("stack", n.Stack).Msg("the loop stopped; the rig gets no requests")
		}
	}
}
