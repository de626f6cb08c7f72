package emulated

import (
	"debug/elf"
	"encoding/binary"
	"fmt"
)

// flashBytes is all flash of an ATmega2560.
const flashBytes = 256 * 1024

// Image is a program as the in-system programmer writes it, and where its
// variables are.
type Image struct {
	Flash   []byte // from address 0, at most flashBytes
	symbols map[string]symbol
}

type symbol struct {
	at, size uint32 // data addresses begin at dataSpace
}

// dataSpace is where avr-gcc puts data addresses.
const dataSpace = 0x800000

// ReadELF reads the linker's output.
func ReadELF(path string) (*Image, error) {
	f, err := elf.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read the image: %w", err)
	}
	defer f.Close()
	img := &Image{symbols: map[string]symbol{}}
	for _, p := range f.Progs {
		if p.Type != elf.PT_LOAD || p.Filesz == 0 || p.Paddr+p.Filesz > flashBytes {
			continue
		}
		if end := int(p.Paddr + p.Filesz); end > len(img.Flash) {
			img.Flash = append(img.Flash, make([]byte, end-len(img.Flash))...)
		}
		if _, err := p.ReadAt(img.Flash[p.Paddr:p.Paddr+p.Filesz], 0); err != nil {
			return nil, fmt.Errorf("read the image %s: %w", path, err)
		}
	}
	symbols, err := f.Symbols()
	if err != nil {
		return nil, fmt.Errorf("read the image %s: %w", path, err)
	}
	for _, s := range symbols {
		if s.Name != "" {
			img.symbols[s.Name] = symbol{uint32(s.Value), uint32(s.Size)}
		}
	}
	return img, nil
}

// function is where a function begins, in bytes.
func (img *Image) function(name string) (uint32, error) {
	s, ok := img.symbols[name]
	if !ok || s.at >= dataSpace {
		return 0, fmt.Errorf("the image has no function %s", name)
	}
	return s.at, nil
}

// StackRoom is how many bytes there are between the variables and an address of
// the stack.
func (img *Image) StackRoom(pointer uint16) int {
	return int(pointer) - int(img.symbols["_end"].at-dataSpace)
}

// variable is where a variable lies in RAM. It must have the size of like,
// packed without padding, as avr-gcc lays it out.
func (img *Image) variable(name string, like any) (at, bytes uint16, err error) {
	s, ok := img.symbols[name]
	if !ok || s.at < dataSpace {
		return 0, 0, fmt.Errorf("the image has no variable %s", name)
	}
	if want := binary.Size(like); s.size != uint32(want) {
		return 0, 0, fmt.Errorf("the image's %s has %d bytes, %d are expected: it was made from another warden",
			name, s.size, want)
	}
	return uint16(s.at - dataSpace), uint16(s.size), nil
}
