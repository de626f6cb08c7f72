package journal

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
)

// The test program runs itself as the child that is killed.
const (
	childPath = "JOURNAL_TEST_PATH" // where; set only for the child
	childKill = "JOURNAL_TEST_KILL" // after how many appends
)

const (
	kills         = 20
	stepsPerCycle = 300
	appendsMost   = 800
	stateEvery    = 37 // steps
)

// killedChild writes cycles of made-up steps, tells what is surely on disk,
// and kills itself in the middle, with no chance to tidy up.
func killedChild(path string) {
	left, err := strconv.Atoi(os.Getenv(childKill))
	check := func(err error) {
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	check(err)
	j, err := Open(path, still())
	check(err)
	for {
		n, err := j.Prepare(someInfo())
		check(err)
		src := steptest.New(uint64(n))
		j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})
		for i := range stepsPerCycle {
			if left--; left == 0 {
				check(unix.Kill(os.Getpid(), unix.SIGKILL))
			}
			in, req := src.Next()
			j.AppendStep(in, req)
			if i%stateEvery == 0 { // wakes the writer, so that it is at work all the time
				j.Append(controller.Record{Kind: controller.RecState, Cycle: n,
					ElapsedMs: in.ElapsedMs, State: controller.Running, StampMs: uint32(i)})
			}
			if i%60 == 59 {
				check(j.Flush())
				head, err := j.Head()
				check(err)
				fmt.Println("saved", n, i+1, head)
			}
		}
		end(j, n, src.ElapsedMs())
		check(j.Flush())
		head, err := j.Head()
		check(err)
		fmt.Println("ended", n, stepsPerCycle, head)
	}
}

// Whenever the daemon is killed: what it had seen committed is there, what is
// there is what it wrote, and the cycle it was in is closed as aborted.
func TestKilledAtAnyMoment(t *testing.T) {
	rng := rand.New(rand.NewPCG(20261125, 1))
	path := inDir(t)
	saved, ended := map[uint32]int{}, map[uint32]bool{}
	for range kills {
		head := readAcknowledged(t, runChild(t, path, 1+rng.IntN(appendsMost)), saved, ended)
		mustCheck(t, path) // as the kill left it
		if r := must[Report](t)(CheckFile(path, head)); !r.OK() {
			t.Fatalf("head %s was acknowledged: %q", head, r.Problems)
		}
		j := must[*Journal](t)(Open(path, still()))
		verifySettled(t, j)
		verifyKilled(t, j, saved, ended)
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		mustCheck(t, path)
	}
	if len(ended) == 0 || len(saved) == len(ended) {
		t.Fatalf("%d cycles ended, %d cycles begun: the kills came too early or too late",
			len(ended), len(saved))
	}
}

func runChild(t *testing.T, path string, appends int) []byte {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childPath+"="+path, fmt.Sprintf("%s=%d", childKill, appends))
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if err == nil || !strings.Contains(err.Error(), "killed") {
		t.Fatalf("child ended with %v, not by the kill: %s", err, errs.String())
	}
	return out.Bytes()
}

func readAcknowledged(t *testing.T, out []byte, saved map[uint32]int, ended map[uint32]bool) (head string) {
	t.Helper()
	lines := bufio.NewScanner(bytes.NewReader(out))
	for lines.Scan() {
		var (
			what  string
			n     uint32
			steps int
		)
		if _, err := fmt.Sscan(lines.Text(), &what, &n, &steps, &head); err != nil {
			t.Fatalf("child said %q: %v", lines.Text(), err)
		}
		saved[n] = steps
		ended[n] = ended[n] || what == "ended"
		if !ended[n] {
			delete(ended, n)
		}
	}
	return head // "" when it was killed before the first one
}

func verifyKilled(t *testing.T, j *Journal, saved map[uint32]int, ended map[uint32]bool) {
	t.Helper()
	list, err := j.Cycles(Filter{Limit: maxCycles})
	if err != nil {
		t.Fatal(err)
	}
	found := map[uint32]bool{}
	for i, c := range list {
		found[c.Number] = true
		got, gap := readSteps(t, j, c.Number)
		if gap != nil {
			t.Fatalf("cycle %d: %v; the child never outruns both buffers", c.Number, gap)
		}
		verifyRecords(t, j, c.Number)
		src := steptest.New(uint64(c.Number))
		var want []chunk.Row
		for range got {
			want = append(want, chunk.Row{})
			want[len(want)-1].Set(src.Next())
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("cycle %d: what is stored is no prefix of what was written: %s", c.Number, diff)
		}
		if len(got) < saved[c.Number] {
			t.Fatalf("cycle %d: %d steps, %d were acknowledged", c.Number, len(got), saved[c.Number])
		}
		if ended[c.Number] && c.State != "complete" {
			t.Fatalf("cycle %d: its end was acknowledged; state %q", c.Number, c.State)
		}
		if c.State != "complete" && (c.State != "aborted" || c.Reason != reasonEnded || !c.Recovered) {
			t.Fatalf("cycle %d: state %q, reason %q", c.Number, c.State, c.Reason)
		}
		verifySaved(t, i == 0 && c.Recovered && len(j.Recovered()) > 0, j, len(got))
	}
	for n := range saved {
		if !found[n] {
			t.Fatalf("cycle %d was acknowledged and is gone", n)
		}
	}
}

// verifySettled: of what the kill left in the log nothing is left there; it has
// only what Open wrote after it, a cycle's end.
func verifySettled(t *testing.T, j *Journal) {
	t.Helper()
	const end = 10 * (4096 + 24) // pages with their frame's head
	if log := must[os.FileInfo](t)(os.Stat(j.path + "-wal")); log.Size() > end {
		t.Errorf("the log has %d bytes after Open; the end of a cycle takes %d at most",
			log.Size(), end)
	}
}

// verifyRecords: the states come in order, none missing between two.
func verifyRecords(t *testing.T, j *Journal, n uint32) {
	t.Helper()
	next := uint32(0)
	for _, rec := range must[[]controller.Record](t)(j.Records(n)) {
		if rec.Kind != controller.RecState {
			continue
		}
		if rec.StampMs != next {
			t.Fatalf("cycle %d: state of step %d, want that of step %d", n, rec.StampMs, next)
		}
		next += stateEvery
	}
}

// verifySaved: the report at Open says how much trace there is.
func verifySaved(t *testing.T, newest bool, j *Journal, steps int) {
	t.Helper()
	if !newest {
		return
	}
	r := j.Recovered()
	if len(r) != 1 {
		t.Fatalf("%d cycles recovered at once", len(r))
	}
	if (r[0].Saved > 0) != (steps > 0) {
		t.Fatalf("cycle %d: %v of trace reported, %d steps are there", r[0].Number, r[0].Saved, steps)
	}
}
