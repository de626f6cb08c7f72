package chunk

import (
	"encoding/binary"

	"pressrig/controller"
)

// What a side row has. On disk: written out, never renumbered.
const (
	sideCommand = 1 << 0
	sideBy      = 1 << 1
	sideAnswer  = 1 << 2
	sideAck     = 1 << 3
	sideJob     = 1 << 4
	sideUser    = 1 << 5
	sideKnown   = sideCommand | sideBy | sideAnswer | sideAck | sideJob | sideUser
)

const (
	jobDummy = 1 << 0
	jobLast  = 1 << 1
	jobUser  = 1 << 2
	jobKnown = jobDummy | jobLast | jobUser
)

func appendSides(b []byte, rows []Row) []byte {
	count := uint64(0)
	for i := range rows {
		if rows[i].hasSide() {
			count++
		}
	}
	b = binary.AppendUvarint(b, count)
	next := 0
	for i := range rows {
		if rows[i].hasSide() {
			b = binary.AppendUvarint(b, uint64(i-next))
			b = appendSide(b, &rows[i])
			next = i + 1
		}
	}
	return b
}

func appendSide(b []byte, r *Row) []byte {
	which := sideBits(r)
	b = append(b, which)
	if which&sideCommand != 0 {
		b = append(b, byte(r.Command))
	}
	if which&sideBy != 0 {
		b = appendText(b, r.By)
	}
	if which&sideAnswer != 0 {
		b = binary.AppendUvarint(b, uint64(r.Answer.Prompt))
		b = append(b, bit(r.Answer.Yes, 1))
	}
	if which&sideJob != 0 {
		b = binary.AppendUvarint(b, uint64(r.Job.Cycle))
		b = binary.AppendUvarint(b, uint64(r.Job.Run))
		b = binary.AppendUvarint(b, uint64(r.Job.Piece))
		b = append(b, bit(r.Job.Dummy, jobDummy)|bit(r.Job.Last, jobLast)|bit(r.Job.User != "", jobUser))
		b = appendText(b, r.Job.By)
		if r.Job.User != "" {
			b = appendText(b, r.Job.User)
		}
	}
	if which&sideUser != 0 {
		b = appendText(b, r.User)
	}
	return b
}

func sideBits(r *Row) byte {
	return bit(r.Command != 0, sideCommand) | bit(r.By != "", sideBy) |
		bit(r.Answer != controller.Answer{}, sideAnswer) | bit(r.Ack, sideAck) |
		bit(r.HasJob, sideJob) | bit(r.User != "", sideUser)
}

func bit(on bool, b byte) byte {
	if on {
		return b
	}
	return 0
}

func appendText(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

func (d *reader) sides(rows []Row) {
	count := d.uvarint("number of side rows", uint64(len(rows)))
	next := uint64(0)
	for range count {
		at := next + d.uvarint("side row's place", MaxRows)
		if at >= uint64(len(rows)) {
			d.fail("side row %d of %d rows", at, len(rows))
		}
		if d.err != nil {
			return
		}
		d.side(&rows[at])
		next = at + 1
	}
}

func (d *reader) side(r *Row) {
	which := d.byte("side row", sideKnown)
	if which&sideCommand != 0 {
		r.Command = controller.Command(d.byte("command", 0xFF))
	}
	if which&sideBy != 0 {
		r.By = d.text("name")
	}
	if which&sideAnswer != 0 {
		r.Answer.Prompt = uint16(d.uvarint("prompt", 1<<16-1))
		r.Answer.Yes = d.byte("answer", 1) != 0
	}
	r.Ack = which&sideAck != 0
	if which&sideJob != 0 {
		r.HasJob = true
		r.Job.Cycle = uint32(d.uvarint("cycle", 1<<32-1))
		r.Job.Run = uint32(d.uvarint("run", 1<<32-1))
		r.Job.Piece = uint16(d.uvarint("piece", 1<<16-1))
		flags := d.byte("job flags", jobKnown)
		r.Job.Dummy, r.Job.Last = flags&jobDummy != 0, flags&jobLast != 0
		r.Job.By = d.text("job's name")
		if flags&jobUser != 0 {
			r.Job.User = d.text("job's user")
		}
	}
	if which&sideUser != 0 {
		r.User = d.text("user")
	}
}
