package image

import (
	"crypto/sha256"
	_ "embed" // the program
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// Both files are written by make firmware-image and belong together.
var (
	//go:embed mega2560.hex
	boardHex []byte
	//go:embed mega2560.sha256
	boardSum string
)

// ErrNoImage is a binary that was built without the board's program.
var ErrNoImage = errors.New("this pressrig carries no program for the board; use a release, or " +
	"make firmware-image and build again")

// Board is the program for an ATmega2560 that this binary carries, from
// address 0.
func Board() ([]byte, error) { return Program(boardHex, boardSum) }

// Program reads a program out of its HEX file, which has to have the SHA-256
// that stands in sum, and to be nothing else than one piece from address 0.
func Program(text []byte, sum string) ([]byte, error) {
	if len(text) == 0 {
		return nil, ErrNoImage
	}
	have := sha256.Sum256(text)
	if want := strings.TrimSpace(sum); hex.EncodeToString(have[:]) != want {
		return nil, fmt.Errorf("the board's program has SHA-256 %x; %s is wanted", have, want)
	}
	segments, err := ReadHex(text)
	if err != nil {
		return nil, fmt.Errorf("the board's program: %w", err)
	}
	if len(segments) != 1 || segments[0].Address != 0 || segments[0].End() > BlockAddress {
		return nil, fmt.Errorf("the board's program is not one piece from address 0 that ends below %X",
			BlockAddress)
	}
	return segments[0].Bytes, nil
}
