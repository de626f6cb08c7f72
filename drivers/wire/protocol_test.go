package wire

import (
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// fieldRow is a row of a message's field table in PROTOCOL.md: offset, type.
var fieldRow = regexp.MustCompile(`(?m)^\| (\d+) \| ((?:(\d+) x )?([ui])(8|16|32|64)(?: x n)?) \|`)

// section cuts "### 5.n Name (class)" out of PROTOCOL.md.
func section(t *testing.T, page string, m *layout) string {
	t.Helper()
	title := fmt.Sprintf("(%d)\n", m.class)
	for part := range strings.SplitSeq(page, "\n### ") {
		name := strings.ToUpper(m.name[:1]) + m.name[1:]
		if strings.HasPrefix(part, "5.") && strings.Contains(part, " "+name+" "+title) {
			body, _, _ := strings.Cut(part, "\n## ")
			return body
		}
	}
	t.Fatalf("PROTOCOL.md section 5 has no part for %q %s", m.name, title)
	return ""
}

// The field tables of PROTOCOL.md have no hole and no overlap, and end where
// the code's frame table says that the payload ends: who writes a firmware from
// the page and who reads the code see the same bytes.
func TestProtocolFieldTablesFillThePayload(t *testing.T) {
	page, err := os.ReadFile("PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	for i := range layouts {
		m := &layouts[i]
		rows := fieldRow.FindAllStringSubmatch(section(t, string(page), m), -1)
		at := 0
		for _, row := range rows {
			if row[1] != strconv.Itoa(at) {
				t.Errorf("%s: a field at offset %s, want %d", m.name, row[1], at)
			}
			bits, _ := strconv.Atoi(row[5])
			times := 1
			if row[3] != "" {
				times, _ = strconv.Atoi(row[3])
			}
			if strings.HasSuffix(row[2], "x n") {
				times = PieceBytes
			}
			at += times * bits / 8
		}
		if at != m.most {
			t.Errorf("%s: the fields of PROTOCOL.md take %d bytes, the frame table says %d",
				m.name, at, m.most)
		}
	}
}

// The header's table likewise, up to the payload.
func TestProtocolHeaderTable(t *testing.T) {
	page, err := os.ReadFile("PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []struct {
		at         int
		kind, name string
	}{
		{atVersion, "u8", "version"}, {atClass, "u8", "class"}, {atDevice, "u16", "device"},
		{atMCU, "u32", "MCU session"}, {atHost, "u32", "host session"},
		{atSeq, "u16", "sequence"}, {atLength, "u8", "length"},
		{HeaderBytes, "", "payload"},
	} {
		row := strings.ReplaceAll(fmt.Sprintf("| %d | %s | %s |", f.at, f.kind, f.name), "|  |", "| |")
		if !strings.Contains(string(page), row) {
			t.Errorf("PROTOCOL.md section 3 must have the row %q", row)
		}
	}
}
