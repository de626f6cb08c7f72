package wire

// Verdict is what became of a received frame. Written out, never renumbered.
type Verdict uint8

// The verdicts. All but Accepted refuse the frame. Corrupt and BadValue charge
// the error budget: both may be a disturbed line.
const (
	Accepted     Verdict = 1
	Corrupt      Verdict = 2  // COBS, length or CRC wrong, over-long
	BadValue     Verdict = 3  // CRC right, but a payload size or a value out of range
	BadVersion   Verdict = 4  // CRC right, another protocol version
	WrongClass   Verdict = 5  // CRC right, a class that this direction has not
	WrongDevice  Verdict = 6  // another microcontroller
	WrongSession Verdict = 7  // not of the established pair of sessions
	Repeated     Verdict = 8  // the number of the newest frame again
	OutOfOrder   Verdict = 9  // a number behind, or more than MaxAhead ahead
	Late         Verdict = 10 // a request older than MaxAgeMs

	NumVerdict Verdict = 11
)

var verdictNames = [NumVerdict]string{"", "accepted", "corrupt", "bad value", "bad version",
	"wrong class", "wrong device", "wrong session", "repeated", "out of order", "late"}

// String is the verdict in lower-case words.
func (v Verdict) String() string {
	if v < NumVerdict {
		return verdictNames[v]
	}
	return "verdict?"
}
