package telemetry

import (
	"os"
	"strings"
	"testing"
)

// The table in the docs is the table of the program.
func TestDocTableIsFresh(t *testing.T) {
	const (
		path  = "../docs/telemetry.md"
		begin = "-update; do not edit by hand -->\n"
		end   = "<!-- end of the generated part -->"
	)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok1 := strings.Cut(string(data), begin)
	table, after, ok2 := strings.Cut(rest, end)
	if !ok1 || !ok2 {
		t.Fatalf("%s has lost the marks of its generated part", path)
	}
	if *update {
		text := before + begin + TopicTable() + end + after
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if table != TopicTable() {
		t.Errorf("%s has an old topic table; refresh: go test ./telemetry -run Doc -update", path)
	}
}

// Every topic of the table is one that is sent with these rules, and the
// command topic is none of them.
func TestTopicRules(t *testing.T) {
	for _, topic := range Topics {
		qos, retained := rules(topic.Name)
		if qos != topic.QoS || retained != topic.Retained {
			t.Errorf("%s: QoS %d, retained %t", topic.Name, qos, retained)
		}
		if topic.Name == topicCommand {
			t.Error("the command topic is told")
		}
	}
	if qos, retained := rules(topicCycle); qos != 1 || retained {
		t.Error("cycle summaries need QoS 1 and must not be retained")
	}
}
