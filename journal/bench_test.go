package journal

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/journal/steptest"
)

// BenchmarkCommit: a record appended and on disk, against the bare floor of a
// page written and synced on the same disk in the same run.
func BenchmarkCommit(b *testing.B) {
	dir := b.TempDir()
	f, err := os.Create(filepath.Join(dir, "floor"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	j := open(b, filepath.Join(dir, "cycles.db"), still())
	n := begin(b, j, someInfo(), 0)
	page := make([]byte, 4096)
	var floor, commit time.Duration
	for b.Loop() {
		t0 := time.Now()
		if _, err := f.Write(page); err != nil {
			b.Fatal(err)
		}
		if err := f.Sync(); err != nil {
			b.Fatal(err)
		}
		t1 := time.Now()
		j.Append(controller.Record{Kind: controller.RecMark, Cycle: n})
		flush(b, j)
		floor += t1.Sub(t0)
		commit += time.Since(t1)
	}
	b.ReportMetric(float64(floor.Microseconds())/float64(b.N), "floor-us")
	b.ReportMetric(float64(commit.Microseconds())/float64(b.N), "commit-us")
	b.ReportMetric(float64(commit)/float64(floor), "times-floor")
}

// BenchmarkAppendStep is what a hundred ticks pay, with the writer keeping up.
func BenchmarkAppendStep(b *testing.B) {
	j := open(b, inDir(b), still())
	n := begin(b, j, someInfo(), 0)
	in, req := steptest.New(1).Next()
	for b.Loop() {
		for range 100 {
			in.Tick++
			j.AppendStep(in, req)
		}
		b.StopTimer()
		flush(b, j)
		b.StartTimer()
	}
	end(j, n, 0)
}

// BenchmarkOverlay loads ten cycles of 180 s from a journal of 25,000 cycles
// (most of them short, to keep the file at a few hundred megabytes).
func BenchmarkOverlay(b *testing.B) {
	const cycles, full, seconds = 25_000, 10, 180
	path := inDir(b)
	j := open(b, path, still())
	for range full {
		n := begin(b, j, someInfo(), 0)
		src := steptest.New(uint64(n))
		for range seconds {
			feed(j, src, 100)
			flush(b, j)
		}
		end(j, n, src.ElapsedMs())
	}
	flush(b, j)
	multiply(b, j, cycles)
	for b.Loop() {
		for n := uint32(1); n <= full; n++ {
			if _, err := j.Trace(n); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/overlay")
}

// multiply copies cycle 1 with its first seconds until there are so many.
func multiply(b *testing.B, j *Journal, cycles int) {
	b.Helper()
	const numbers = `WITH RECURSIVE n(i) AS (SELECT 11 UNION ALL SELECT i + 1 FROM n WHERE i < ?)`
	err := j.ask(func(w *writer) error {
		for _, q := range []struct{ table, statement string }{
			{"cycle", numbers + ` INSERT INTO cycle SELECT i, run, piece, dummy, last, guarded, by_name, rig,
				recipe, recipe_hash, profile_hash, capabilities, started_ms, start_elapsed_ms,
				ended_ms, state, reason, cause, lockout, recovered, saved_ms, lost_records, by_user
				FROM n, cycle WHERE number = 1`},
			{"record", numbers + ` INSERT INTO record SELECT NULL, i, kind, elapsed_ms, wall_ms, stamp_ms, phase,
				state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name, by_user
				FROM n, record WHERE cycle = 1`},
			{"chunk", numbers + ` INSERT INTO chunk SELECT NULL, i, seq, steps, gap_steps, first_tick, last_tick,
				last_ms, wall_ms, data FROM n, chunk WHERE cycle = 1 AND seq < 6`},
		} {
			err := j.inTransaction(b.Context(), func(s *txn) error { return s.exec(q.table, q.statement, cycles) })
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
}
