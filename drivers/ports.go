package drivers

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"go.bug.st/serial/enumerator"
)

// stableFolder has links that keep their names over a replug.
const stableFolder = "/dev/serial/by-id"

// PortInfo is one serial device of this computer. Pseudo terminals are not
// listed.
type PortInfo struct {
	Path    string // as the system named it now
	Stable  string // link that keeps its name over a replug, or empty
	USB     string // vendor:product, four hexadecimal digits each, or empty
	Product string // what the device says it is, or empty
	Serial  string // its serial number, or empty
}

// Ports lists the serial devices by path.
func Ports() ([]PortInfo, error) {
	found, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, fmt.Errorf("list serial devices: %w", err)
	}
	stable := stableLinks(stableFolder)
	var ports []PortInfo
	for _, d := range found {
		if d.Name == "" {
			continue // listed, but without hardware behind it
		}
		p := PortInfo{Path: d.Name, Stable: stable[d.Name], Product: d.Product, Serial: d.SerialNumber}
		if d.IsUSB {
			p.USB = d.VID + ":" + d.PID
		}
		ports = append(ports, p)
	}
	slices.SortFunc(ports, func(a, b PortInfo) int { return strings.Compare(a.Path, b.Path) })
	return ports, nil
}

// stableLinks maps each device to the link in folder that names it.
func stableLinks(folder string) map[string]string {
	links := map[string]string{}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return links // no such devices, or another system
	}
	for _, e := range entries {
		link := filepath.Join(folder, e.Name())
		if device, err := filepath.EvalSymlinks(link); err == nil {
			links[device] = link
		}
	}
	return links
}
