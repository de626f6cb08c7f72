package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"pressrig/glass"
)

// mostOwnGlasses is far above what one workshop has.
const mostOwnGlasses = 200

// shelfOf reads the glass files of a folder, beside the built-in glasses; ""
// is no folder.
func shelfOf(dir string) (*glass.Shelf, error) {
	if dir == "" {
		return nil, nil
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		return nil, usage("glasses: %w; name the folder that has your glass files", err)
	}
	files = slices.DeleteFunc(files, func(f os.DirEntry) bool { return filepath.Ext(f.Name()) != ".yaml" })
	if len(files) > mostOwnGlasses {
		return nil, usage("glasses: %s has %d files; keep at most %d there", dir, len(files), mostOwnGlasses)
	}
	var s glass.Shelf
	for _, f := range files {
		file := filepath.Join(dir, f.Name())
		text, err := readFile(file)
		if err != nil {
			return nil, err
		}
		g, err := glass.Parse(file, text)
		if err == nil {
			if err = s.Put(g); err != nil {
				err = fmt.Errorf("%s: %w", file, err)
			}
		}
		if err != nil {
			return nil, exit{exitUsage, err}
		}
	}
	return &s, nil
}
