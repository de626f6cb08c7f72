package chunk

import (
	"pressrig/safety/warden"
)

// column is one field of all rows. Values travel as uint64; signed ones are
// sign-extended, so that a small negative number stays small after zigzag.
type column struct {
	snap  bool // has a value only in rows with a snapshot
	noisy bool // sensor noise or jitter: written in bits
	get   func(*Row) uint64
	set   func(*Row, uint64) bool // false: the value does not fit the field
}

// Bits of the flags column.
const (
	flagSnap     = 1 << 0
	flagWritable = 1 << 1
	flagsKnown   = flagSnap | flagWritable
)

// columns is the order on disk: what a trace needs comes first, so that
// reading a trace can stop there. Never reorder: that is a new format.
var columns = append(traceColumns(), restColumns()...)

// numTrace is how many columns a trace needs.
var numTrace = len(traceColumns())

func traceColumns() []column {
	list := []column{
		{get: getFlags, set: setFlags},
		noisy(u64(func(r *Row) *uint64 { return &r.ElapsedMs })),
	}
	for ai := range warden.NumAnalog {
		list = append(list, noisy(snap(i16(func(r *Row) *int16 { return &r.Snap.Analog[ai] }))))
	}
	return append(list,
		snap(u16(func(r *Row) *uint16 { return &r.Snap.AnalogOK })),
		snap(u32(func(r *Row) *uint32 { return &r.Snap.In })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.Out })),
		snap(u8(func(r *Row) *uint8 { return &r.Snap.Burner })),
		snap(u8(func(r *Row) *uint8 { return &r.Snap.Press })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.Flags })),
	)
}

func restColumns() []column {
	list := append(stepColumns(), snapColumns()...)
	for i := range warden.NumLeases {
		list = append(list, noisy(snap(u8(func(r *Row) *uint8 { return &r.Snap.LeaseCs[i] }))))
	}
	return append(list, requestColumns()...)
}

func stepColumns() []column {
	return []column{
		u64(func(r *Row) *uint64 { return &r.Tick }),
		u32(func(r *Row) *uint32 { return &r.Session }),
		u8(func(r *Row) *uint8 { return &r.BadFrames }),
		u32(func(r *Row) *uint32 { return &r.Journal.Started }),
	}
}

func snapColumns() []column {
	return []column{
		noisy(snap(u32(func(r *Row) *uint32 { return &r.Snap.StampMs }))),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.GlassAgeMs })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.FuelMl })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.OxygenMl })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.SpindleDrpm })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.SpeedCmms })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.ForceDN })),
		snap(i16(func(r *Row) *int16 { return &r.Snap.TravelCmm })),
		snap(u8(func(r *Row) *uint8 { return &r.Snap.Spindle })),
		snap(u8(func(r *Row) *uint8 { return &r.Snap.Link })),
		snap(u8(func(r *Row) *uint8 { return &r.Snap.Lock })),
		snap(u8(func(r *Row) *uint8 { return &r.Snap.First })),
		snap(u64(func(r *Row) *uint64 { return &r.Snap.Trips })),
		snap(u64(func(r *Row) *uint64 { return &r.Snap.Present })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.ArmID })),
		noisy(snap(u16(func(r *Row) *uint16 { return &r.Snap.PhaseCs }))),
		snap(u32(func(r *Row) *uint32 { return &r.Snap.Unburnt })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.BadFrames })),
		snap(u16(func(r *Row) *uint16 { return &r.Snap.Gaps })),
		noisy(snap(u16(func(r *Row) *uint16 { return &r.Snap.EchoSeq }))),
	}
}

func requestColumns() []column {
	return []column{
		u8(func(r *Row) *uint8 { return &r.Request.Lease }),
		u8(func(r *Row) *uint8 { return &r.Request.Press }),
		u16(func(r *Row) *uint16 { return &r.Request.Flags }),
		u16(func(r *Row) *uint16 { return &r.Request.ArmID }),
		u16(func(r *Row) *uint16 { return &r.Request.FuelMl }),
		u16(func(r *Row) *uint16 { return &r.Request.OxygenMl }),
		u16(func(r *Row) *uint16 { return &r.Request.SpindleDrpm }),
		i16(func(r *Row) *int16 { return &r.Request.TravelCmm }),
		u16(func(r *Row) *uint16 { return &r.Request.SpeedCmms }),
		u16(func(r *Row) *uint16 { return &r.Request.ForceDN }),
		i16(func(r *Row) *int16 { return &r.Request.GlassLowDC }),
		i16(func(r *Row) *int16 { return &r.Request.GlassHighDC }),
		i16(func(r *Row) *int16 { return &r.Request.EstDC }),
		u16(func(r *Row) *uint16 { return &r.Request.EstUncDC }),
		u16(func(r *Row) *uint16 { return &r.Request.EstAgeMs }),
	}
}

func getFlags(r *Row) uint64 {
	var v uint64
	if r.HasSnap {
		v |= flagSnap
	}
	if r.Journal.Writable {
		v |= flagWritable
	}
	return v
}

func setFlags(r *Row, v uint64) bool {
	r.HasSnap, r.Journal.Writable = v&flagSnap != 0, v&flagWritable != 0
	return v&^uint64(flagsKnown) == 0
}

func snap(c column) column {
	c.snap = true
	return c
}

func noisy(c column) column {
	c.noisy = true
	return c
}

func u64(at func(*Row) *uint64) column {
	return column{get: func(r *Row) uint64 { return *at(r) },
		set: func(r *Row, v uint64) bool { *at(r) = v; return true }}
}

func u32(at func(*Row) *uint32) column { return unsigned(at) }
func u16(at func(*Row) *uint16) column { return unsigned(at) }
func u8(at func(*Row) *uint8) column   { return unsigned(at) }

func unsigned[T uint8 | uint16 | uint32](at func(*Row) *T) column {
	return column{get: func(r *Row) uint64 { return uint64(*at(r)) },
		set: func(r *Row, v uint64) bool { *at(r) = T(v); return uint64(T(v)) == v }}
}

func i16(at func(*Row) *int16) column {
	return column{get: func(r *Row) uint64 { return uint64(int64(*at(r))) },
		set: func(r *Row, v uint64) bool {
			*at(r) = int16(v)
			return uint64(int64(int16(v))) == v
		}}
}
