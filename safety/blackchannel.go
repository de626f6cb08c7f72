package safety

// LineError is one of the errors of a communication channel that IEC 61784-3
// lists, with what answers it here. The serial line counts as a black channel:
// nothing of it is trusted.
type LineError struct {
	Error    string
	Measures string
	Test     string
}

// LineErrors are the eight errors of IEC 61784-3:2021 5.5 (as OPC 10000-15
// table 2 lists them).
var LineErrors = [...]LineError{
	{"corruption", "CRC-32C begun with ones, length byte; COBS refuses what it cannot be", "TestChannelCorruption"},
	{"unintended repetition", "16-bit sequence number: only 1 to 50 ahead is taken", "TestChannelRepetition"},
	{"incorrect sequence", "the same", "TestChannelIncorrectSequence"},
	{"loss", "gaps counted; each permission is a lease of 500 ms", "TestChannelLoss"},
	{"unacceptable delay", "each request echoes the newest stamp; refused when over 200 ms old", "TestChannelDelay"},
	{"insertion", "session numbers of both ends in each frame", "TestChannelInsertion"},
	{"masquerade", "the class of message salts the CRC; text is no frame", "TestChannelMasquerade"},
	{"addressing", "device number in each frame", "TestChannelAddressing"},
}
