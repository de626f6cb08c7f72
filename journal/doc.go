// Package journal keeps every cycle for good: who started what with which
// recipe on which rig, each record of its story, and every step of the
// supervisor losslessly, in one embedded database file (SQLite). Signed proof
// tests stand beside them (proofs.go): appended at once, never changed.
//
// It never delays a tick: Append and AppendStep copy into bounded memory and
// return. One goroutine writes. What was committed survives kill -9 and power
// loss; a cycle that has a start and no end is closed as aborted at the next
// Open, with what was saved and nothing invented. A disk that is full never
// disturbs the running cycle, it only refuses the next start. The journal
// decides nothing about the rig and is no safety device.
//
// What is acknowledged (Health, Flush, Prepare) was committed with an fsync of
// its own that succeeded. After an fsync that failed nothing is built on what
// it should have saved: the same items are written again, whole, and count only
// when their own fsync succeeds; and Open first moves what it finds in the log
// into the main file. What was never acknowledged may still be found after a
// restart, as it was written; never anything else.
//
// What is written has an entry in the ledger (ledger.go), in the same
// transaction: check finds what anything but this program changed, and with a
// head that was noted elsewhere a cut tail. A file with damaged pages is not
// opened to be written; it can still be read and checked.
//
// Sizes, and what happens beyond them:
//
//	records  4,096 preallocated, growing to 65,536 while the disk is slow or
//	         full; beyond that they are counted as lost and reported
//	steps    eight buffers of 128; beyond that steps are dropped and the gap is
//	         stored with its count
//	backlog  16 MiB of packed steps while the disk is full; beyond that the
//	         oldest become a gap
//
// Start reading at journal.go, then queue.go (the side of the loop), writer.go
// (the side of the disk), read.go (the side of people). The tables are in
// schema.go, the packing of steps in package chunk.
package journal
