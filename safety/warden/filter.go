package warden

// Filter is the small machine in front of the others: it holds back what lasts
// too short to be meant. A button that bounces, or a relay contact that chatters
// while a motor starts, is no START and no trip. It runs once a tick before Step,
// which sees the filtered bits alone.
//
// Rows 13, 14 and 34 and the flame are not filtered: force, an end of travel and a
// released hand want the next tick, and the flame has its own time.
type Filter struct {
	Bits   uint32           // as passed on
	Primed uint8            // 1 once the first inputs were taken as they were
	Ms     [NumFilter]uint8 // for how long each filtered input has differed
	Counts uint8            // 1 while any of these counts
}

// Filtered is one input that is filtered, and how long it has to differ.
type Filtered struct {
	Bit uint32
	Ms  uint8
}

const (
	buttonMs  uint8 = 30 // a push button bounces for 10 to 20 ms: common practice, no source
	contactMs uint8 = 5  // a safety relay's contact for 1 to 3 ms: common practice, no source

	NumFilter uint8 = 8
)

const filtered uint32 = InEstopOK | InDoorClosed | InGasAlarm | InFlashback | InMainsOK | InStart | InReset | InSoft

// FilteredInputs are the inputs that are filtered.
var FilteredInputs = [NumFilter]Filtered{
	{InEstopOK, contactMs},
	{InDoorClosed, contactMs},
	{InGasAlarm, contactMs},
	{InFlashback, contactMs},
	{InMainsOK, contactMs},
	{InStart, buttonMs},
	{InReset, buttonMs},
	{InSoft, buttonMs},
}

// StepFilter advances the filter by one millisecond and puts the filtered bits into
// in. What differs counts up and what agrees counts down again, so that a contact
// that is open most of the time passes even if it never rests.
func StepFilter(f *Filter, in *Input) {
	if f.Primed == 0 {
		*f = Filter{Bits: in.Bits, Primed: 1}
		return
	}
	if f.Counts == 0 && (in.Bits^f.Bits)&filtered == 0 { // as a rule nothing bounces
		f.Bits = in.Bits
		return
	}
	f.Counts = 0
	var kept uint32
	for i := range NumFilter {
		bit := FilteredInputs[i].Bit
		if (in.Bits^f.Bits)&bit == 0 {
			if f.Ms[i] > 0 {
				f.Ms[i]--
				f.Counts = 1
			}
			continue
		}
		f.Ms[i]++
		if f.Ms[i] >= FilteredInputs[i].Ms {
			f.Ms[i] = 0
			continue // passes now
		}
		kept |= bit
		f.Counts = 1
	}
	f.Bits = in.Bits&^kept | f.Bits&kept
	in.Bits = f.Bits
}
