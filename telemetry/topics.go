package telemetry

import (
	"fmt"
	"strings"
)

// Topic is one line of the topic table: what is told where.
type Topic struct {
	Name     string // last level: <prefix>/<rig>/<name>
	QoS      byte
	Retained bool
	When     string
	Tells    string
}

// The topics' last levels.
const (
	topicStatus   = "status"
	topicState    = "state"
	topicPhase    = "phase"
	topicTrip     = "trip"
	topicAlarm    = "alarm"
	topicChannels = "channels"
	topicCycle    = "cycle"
	topicLedger   = "ledger"
	topicCommand  = "command"
)

// Topics is the table that docs/telemetry.md shows; a test compares the two.
var Topics = [...]Topic{
	{topicStatus, 1, true, "at connection, at close, and by the broker as last will",
		"`online` or `offline`, and why"},
	{topicState, 1, true, "at each change and each connection",
		"cycle state, phase, cycle number, what it waits for, lock, first cause, alarms on show"},
	{topicPhase, 1, false, "at once", "phase entered, phase left and why"},
	{topicTrip, 1, false, "at once", "first cause and all causes, with words"},
	{topicAlarm, 1, false, "at once", "a condition that needs a person"},
	{topicChannels, 0, false, "2 Hz by default",
		"measured values with the unit in the key; `null` where not valid"},
	{topicCycle, 1, false, "at each cycle's end; kept on disk until acknowledged",
		"summary of the cycle, with an `id` to drop duplicates by"},
	{topicLedger, 1, true, "when a cycle's end is in the journal, at start, close and each connection",
		"head of the journal's ledger, for `pressrig journal check --head`"},
}

// TopicTable is the table of Topics in Markdown.
func TopicTable() string {
	var b strings.Builder
	b.WriteString("| topic | QoS | retained | when | tells |\n|---|---|---|---|---|\n")
	for _, t := range Topics {
		retained := "no"
		if t.Retained {
			retained = "yes"
		}
		fmt.Fprintf(&b, "| `<prefix>/<rig>/%s` | %d | %s | %s | %s |\n",
			t.Name, t.QoS, retained, t.When, t.Tells)
	}
	return b.String()
}

// message is one encoded message on its way to the broker.
type message struct {
	topic   string // last level
	payload []byte
}

// rules finds the QoS and retain flag of a topic's last level.
func rules(name string) (qos byte, retained bool) {
	for _, t := range Topics {
		if t.Name == name {
			return t.QoS, t.Retained
		}
	}
	return 0, false
}
