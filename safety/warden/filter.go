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
		f.Bits, f.Primed = in.Bits, 1
	}
	var kept uint32 // what differs and does not pass yet
	for i := range NumFilter {
		bit := FilteredInputs[i].Bit
		if (in.Bits^f.Bits)&bit == 0 {
			if f.Ms[i] > 0 {
				f.Ms[i]--
			}
			continue
		}
		f.Ms[i]++
		if f.Ms[i] < FilteredInputs[i].Ms {
			kept |= bit
		} else {
			f.Ms[i] = 0
		}
	}
	in.Bits ^= kept
	f.Bits = in.Bits
}
