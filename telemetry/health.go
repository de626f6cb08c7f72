package telemetry

// Health is telemetry's own condition, for pages and the command line.
type Health struct {
	Connected bool
	Address   string // of the broker
	Row       uint8  // RowBrokerLost while not connected, else 0
	Problem   string // why not connected; empty when well

	SummariesWaiting int // on disk, not yet acknowledged

	LostRecords   uint64 // the collector was too slow: a hanging disk
	LostEvents    uint64 // phase, trip and alarm messages, the oldest
	LostSamples   uint64 // channel values, the oldest
	LostSummaries uint64 // over the store's limit, or unreadable

	IgnoredRetained uint64 // retained messages on the command topic
	IgnoredLive     uint64 // others on the command topic
}

// Health gives the condition at this moment.
func (t *Telemetry) Health() Health {
	waiting, lost := t.store.counts()
	t.mu.Lock()
	defer t.mu.Unlock()
	h := Health{
		Connected: t.link.up, Address: t.o.address, Problem: t.link.problem,
		SummariesWaiting: waiting, LostSummaries: lost,
		LostRecords: t.inbox.lost, LostEvents: t.events.lost, LostSamples: t.samples.lost,
		IgnoredRetained: t.ignoredRetained.Load(), IgnoredLive: t.ignoredLive.Load(),
	}
	if !h.Connected {
		h.Row = RowBrokerLost
	}
	return h
}

// ignored hears that something came on the command topic, and does nothing
// but count and log: invariant 13. It is never told what came.
func (t *Telemetry) ignored(retained bool, size int) {
	counter, why := &t.ignoredLive, "ignored: commands are not accepted over MQTT"
	if retained {
		counter, why = &t.ignoredRetained, "ignored: retained"
	}
	n := counter.Add(1)
	if n > maxLogged && n&(n-1) != 0 {
		return // a flood must not fill the log: then only every doubling
	}
	t.o.Log.Warn().Uint64("count", n).Int("bytes", size).Str("topic", t.base+topicCommand).Msg(why)
}

const maxLogged = 16 // ignored messages logged one by one
