//go:build object

package object

/*
#include "hal.h"
*/
import "C"

import (
	"math"
	"unsafe"
)

// Cells is the memory that the store writes to: of the whole package, so that
// its tests run one after the other.
var Cells = unsafe.Slice((*byte)(unsafe.Pointer(&C.hal_cells[0])), C.STORE_CELLS)

// Writes counts how often each cell was written.
var Writes = unsafe.Slice((*uint32)(unsafe.Pointer(&C.hal_writes[0])), C.STORE_CELLS)

// Store is hal/store.c on Cells.
type Store struct{ c C.store }

// StoreRecord and StoreSlots are the sizes of the store.
const (
	StoreRecord = C.STORE_RECORD
	StoreSlots  = C.STORE_SLOTS
)

// NewCells erases the memory and counts anew.
func NewCells() {
	for i := range Cells {
		Cells[i], Writes[i] = 0xFF, 0
	}
	C.hal_left, C.hal_busy_for = math.MaxInt32, 0
}

// CutAfter lets power go after so many writes; the one under way leaves torn.
func CutAfter(writes int, torn uint8) { C.hal_left, C.hal_torn = C.int32_t(writes), C.uint8_t(torn) }

// Busy makes each write take so many questions.
func Busy(questions uint8) { C.hal_busy_for = C.uint8_t(questions) }

// PowerGone reports whether a write was lost.
func PowerGone() bool { return C.hal_left < 0 }

// OpenStore begins as after a start.
func OpenStore(nvNew uint8) *Store {
	s := &Store{}
	C.hal_store_open(&s.c, C.uint8_t(nvNew))
	return s
}

// Step is one millisecond that wants a byte kept.
func (s *Store) Step(want uint8) { C.hal_store_step(&s.c, C.uint8_t(want)) }

// CountBoot asks for a record with the next boot number.
func (s *Store) CountBoot() { C.store_count_boot(&s.c) }

// Holds reports whether the byte is kept and nothing is under way.
func (s *Store) Holds(want uint8) bool { return bool(C.store_holds(&s.c, C.uint8_t(want))) }

// Byte, Boots and Failures are what the store has read back.
func (s *Store) Byte() uint8     { return uint8(s.c.nv) }
func (s *Store) Boots() uint32   { return uint32(s.c.boots) }
func (s *Store) Failures() uint8 { return uint8(s.c.failures) }

// Fitting is what hal/fitting.c reads of a block.
type Fitting struct{ c C.fitting }

// ReadFitting reads a block, at least BlockBytes long.
func ReadFitting(block []byte) (*Fitting, bool) {
	f := &Fitting{}
	ok := C.hal_fitting_read(&f.c, (*C.uint8_t)(unsafe.Pointer(&block[0])))
	return f, bool(ok)
}

// Value is an analog input at counts.
func (f *Fitting) Value(ai int, counts uint16) int16 {
	return int16(C.fitting_value(&f.c.analog[ai], C.uint16_t(counts)))
}

// Value is what an input of any scaling reads, its gain in 1/65,536.
func Value(zero uint16, low int16, gain int32, counts uint16) int16 {
	a := C.fitting_analog{zero: C.uint16_t(zero), low: C.int16_t(low), gain: C.int32_t(gain)}
	return int16(C.fitting_value(&a, C.uint16_t(counts)))
}

// Travel is fitting_travel.
func Travel(zero uint16, low int16, gain int32, counts int16) int16 {
	a := C.fitting_analog{zero: C.uint16_t(zero), low: C.int16_t(low), gain: C.int32_t(gain)}
	return int16(C.fitting_travel(&a, C.int16_t(counts)))
}

// Intact reports whether counts lie in the range of the input.
func (f *Fitting) Intact(ai int, counts int32) bool {
	a := &f.c.analog[ai]
	return counts >= int32(a.least) && counts <= int32(a.most)
}

// Steps is the pulse of set-point i at a value.
func (f *Fitting) Steps(i int, value uint16) uint16 {
	return uint16(C.fitting_steps(f.c.setpoints[i], C.uint16_t(value)))
}

// Steps is the pulse of any gain at a value.
func Steps(gain uint32, value uint16) uint16 {
	return uint16(C.fitting_steps(C.uint32_t(gain), C.uint16_t(value)))
}

// Device, Length and Program are fields of the block.
func (f *Fitting) Device() uint16  { return uint16(f.c.device) }
func (f *Fitting) Length() uint32  { return uint32(f.c.length) }
func (f *Fitting) Program() uint32 { return uint32(f.c.program) }

// Config is the warden's configuration in the block; a warden.Config has the
// same memory (TestLayoutsAreTheSame).
func (f *Fitting) Config() unsafe.Pointer { return unsafe.Pointer(&f.c.config) }

// LimitsHold is limits_hold on a warden.Config.
func LimitsHold(config unsafe.Pointer) bool { return bool(C.limits_hold((*C.warden_config)(config))) }

// StrokeSpeed is stroke_speed on a warden.Output.
func StrokeSpeed(out unsafe.Pointer, travelCmm int16, known bool) uint16 {
	return uint16(C.stroke_speed((*C.warden_output)(out), C.int16_t(travelCmm), C.bool(known)))
}

// StrokeMustCount is stroke_must_count on a warden.Output.
func StrokeMustCount(out unsafe.Pointer, speedCmms uint16, travelCmm int16) bool {
	return bool(C.stroke_must_count((*C.warden_output)(out), C.uint16_t(speedCmms), C.int16_t(travelCmm)))
}

// Encoder is the press encoder's counting.
type Encoder struct{ c C.encoder }

// NewEncoder begins at tracks: bit 0 A, bit 1 B.
func NewEncoder(tracks uint8) *Encoder {
	e := &Encoder{}
	C.encoder_start(&e.c, C.uint8_t(tracks))
	return e
}

// Step sees the tracks.
func (e *Encoder) Step(tracks uint8) { C.encoder_step(&e.c, C.uint8_t(tracks)) }

// Counts and Skipped are what it has.
func (e *Encoder) Counts() int16  { return int16(e.c.counts) }
func (e *Encoder) Skipped() uint8 { return uint8(e.c.skipped) }

// SetCounts puts it near an end.
func (e *Encoder) SetCounts(n int16) { e.c.counts = C.int16_t(n) }

// Homing says whether travel may be believed.
type Homing struct{ c C.homing }

// Step is one millisecond; true: travel may be believed in it.
func (h *Homing) Step(e *Encoder, open bool, countedCmm, openCmm int16) bool {
	return bool(C.homing_step(&h.c, &e.c, C.bool(open), C.int16_t(countedCmm), C.int16_t(openCmm)))
}

// TravelCmm is where the press is.
func (h *Homing) TravelCmm() int16 { return int16(h.c.travel_cmm) }

// Failed reports whether nothing but power gone makes travel good again.
func (h *Homing) Failed() bool { return bool(h.c.failed) }

// Watch is one millisecond of a drive that must count, or need not.
func (h *Homing) Watch(e *Encoder, mustCount bool) { C.homing_watch(&h.c, &e.c, C.bool(mustCount)) }

// Known reports whether travel may be believed.
func (h *Homing) Known() bool { return bool(h.c.known) }

// Speaker is hal/speaker.c.
type Speaker struct {
	c    C.speaker
	line C.wire_line
}

// NewSpeaker begins after a start.
func NewSpeaker(device uint16, session uint32, firmware string) *Speaker {
	s := &Speaker{}
	hello := C.wire_hello{scale: 1}
	for i := range min(len(firmware), len(hello.firmware)) {
		hello.firmware[i] = C.uint8_t(firmware[i])
	}
	C.speaker_start(&s.c, C.uint16_t(device), C.uint32_t(session), &hello)
	return s
}

// Tell queues an event.
func (s *Speaker) Tell(code uint16, value, nowMs uint32) {
	C.speaker_tell(&s.c, C.uint16_t(code), C.uint32_t(value), C.uint32_t(nowMs))
}

// Other is the frame that is due, without its delimiters; nil: none.
func (s *Speaker) Other(peer, nowMs uint32, config unsafe.Pointer) []byte {
	C.speaker_other(&s.c, &s.line, C.uint32_t(peer), C.uint32_t(nowMs), (*C.warden_config)(config))
	return s.said()
}

// AskPiece acts as if the host had asked for a piece of the configuration.
func (s *Speaker) AskPiece(index uint8) {
	f := C.wire_frame{class: C.WIRE_PARAMETERS_REQUEST, index: C.uint8_t(index)}
	C.speaker_hear(&s.c, &f)
}

// Snapshot says one of a state's phase and leases.
func (s *Speaker) Snapshot(peer, stampMs, phaseMs uint32, leaseMs uint16) []byte {
	v := C.speaker_view{stamp_ms: C.uint32_t(stampMs)}
	v.state.phase_ms = C.uint32_t(phaseMs)
	for i := range v.state.lease_ms {
		v.state.lease_ms[i] = C.uint16_t(leaseMs)
	}
	C.speaker_snapshot(&s.c, &s.line, C.uint32_t(peer), &v)
	return s.said()
}

func (s *Speaker) said() []byte {
	if s.line.n == 0 {
		return nil
	}
	return C.GoBytes(unsafe.Pointer(&s.line.bytes[0]), C.int(s.line.n))
}
