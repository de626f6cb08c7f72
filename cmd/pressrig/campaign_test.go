package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"pressrig/rehearse/campaign"
)

var updateShape = flag.Bool("update-shape", false, "rewrite the golden shape of the campaign's JSON")

// shape lists the paths and kinds of a JSON value; of a list the first element.
func shape(v any, path string, into map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		for k, e := range v {
			shape(e, path+"."+k, into)
		}
	case []any:
		if len(v) > 0 {
			shape(v[0], path+"[]", into)
		}
	case string:
		into[path+" text"] = true
	case float64:
		into[path+" number"] = true
	}
}

// The saved file keeps its form: others read it.
func TestCampaignSavesItsResults(t *testing.T) {
	file := filepath.Join(t.TempDir(), "campaign.json")
	var out, errOut bytes.Buffer
	if code := run([]string{"campaign", "--only", "none", "--runs", "4", "--seed", "3", "--save", file}, nil, &out, &errOut); code != 0 {
		t.Fatalf("exit code %d: %s%s", code, out.String(), errOut.String())
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	paths := map[string]bool{}
	shape(v, "", paths)
	var lines []string
	for p := range paths {
		lines = append(lines, p)
	}
	sort.Strings(lines)
	got := strings.Join(lines, "\n") + "\n"
	const golden = "testdata/campaign.shape"
	if *updateShape {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil || got != string(want) {
		t.Errorf("the form of the campaign's JSON has changed (%v):\n%s", err, got)
	}
	for _, said := range []string{"4 runs, 0 wrong", "times real time on one core", "not the safety device"} {
		if !strings.Contains(out.String(), said) {
			t.Errorf("%q is not said:\n%s", said, out.String())
		}
	}
}

// A run that went wrong fails the command and says how to see it again.
func TestCampaignFailsWithARun(t *testing.T) {
	var out bytes.Buffer
	e := &env{ctx: context.Background(), out: &out, err: &out}
	r := newCampaignReport(e, nil, &campaignCmd{})
	r.add(campaign.Result{Name: "single 1 fire entry", About: []string{"1"}, Script: "driven 7; 70000 provoke 1",
		Digest: "0123456789abcdef", Wrong: []string{"row 1 did not act in its time at 70001 ms"}})
	r.finish(1, 1)
	if err := r.print(e); exitCode(err) != exitFailed {
		t.Errorf("exit code %d", exitCode(err))
	}
	for _, said := range []string{"WRONG single 1 fire entry, digest 0123456789abcdef", "row 1 did not act",
		`pressrig campaign --replay "driven 7; 70000 provoke 1"`, "1 runs, 1 wrong"} {
		if !strings.Contains(out.String(), said) {
			t.Errorf("%q is not said:\n%s", said, out.String())
		}
	}
}

// A replay tells its story and ends with the digest that the campaign had. SV-070
func TestCampaignReplays(t *testing.T) {
	const script = "driven-short 7; 20000 provoke 1"
	one := campaign.Case{}
	var err error
	if one.Script, err = campaign.ParseScript(script); err != nil {
		t.Fatal(err)
	}
	digest := campaign.Run(&one, nil).Digest
	var out, errOut bytes.Buffer
	if code := run([]string{"campaign", "--replay", script}, nil, &out, &errOut); code != 0 {
		t.Fatalf("exit code %d: %s", code, errOut.String())
	}
	for _, said := range []string{"done: fault estop", "rig: row 1, emergency stop", "journal: trip", "digest  " + digest} {
		if !strings.Contains(out.String(), said) {
			t.Errorf("%q is not told:\n%s", said, out.String())
		}
	}
	for _, bad := range [][]string{{"--replay", "nowhere 1"}, {"--runs", "-1"}, {"--only", "some"}, {"--replay", ""},
		{"--replay", "driven 7; 1200000 fault estop"}, {"--save", "/no/such/folder/c.json"}} {
		if code := run(append([]string{"campaign"}, bad...), nil, &out, &errOut); code != exitUsage {
			t.Errorf("%v: exit code %d", bad, code)
		}
	}
}
