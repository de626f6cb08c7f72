package wire

import "hash/crc32"

// castagnoli is CRC-32C (CRC-32/ISCSI: polynomial 1EDC6F41 reflected, start
// and final exclusive-or all ones). It keeps Hamming distance 6 at our frame
// sizes.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// salt is the prefix that a frame's CRC begins with and that is never sent:
// "PR", direction, class. A text on the line, or a frame of the other
// direction, has been checked with another prefix or with none, so that it
// cannot pass for one of ours (masquerade).
func salt(from Direction, class Class) [4]byte {
	return [4]byte{'P', 'R', byte(from), byte(class)}
}

// checksum is the CRC-32C of the salt and then of header and payload.
func checksum(from Direction, header []byte) uint32 {
	prefix := salt(from, Class(header[atClass]))
	crc := ^uint32(0)
	for _, b := range prefix {
		crc = castagnoli[byte(crc)^b] ^ crc>>8
	}
	return crc32.Update(^crc, castagnoli, header)
}
