package drivers

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"go.bug.st/serial"
)

// Where Linux tells of its serial devices.
const (
	sysfsTTY     = "/sys/class/tty"
	stableFolder = "/dev/serial/by-id" // links that keep their names over a replug
)

// usbLevels is how far above a tty's device its USB device can stand.
const usbLevels = 4

// PortInfo is one serial device of this computer. Pseudo terminals are not
// listed.
type PortInfo struct {
	Path    string // as the system named it now
	Stable  string // link that keeps its name over a replug, or empty
	USB     string // vendor:product, four hexadecimal digits each, or empty
	Product string // what the device says it is, or empty
	Serial  string // its serial number, or empty
}

// Ports lists the serial devices by path. It opens none: the serial library's
// own list opens the on-board ones, which raises DTR and sets 9,600 baud on a
// line that a running daemon may be using.
func Ports() ([]PortInfo, error) {
	ports, err := sysfsPorts(sysfsTTY, stableFolder)
	if errors.Is(err, os.ErrNotExist) { // not Linux
		return listedPorts()
	}
	return ports, err
}

func listedPorts() ([]PortInfo, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("list serial devices: %w", err)
	}
	slices.Sort(names)
	var ports []PortInfo
	for _, name := range names {
		ports = append(ports, PortInfo{Path: name})
	}
	return ports, nil
}

func sysfsPorts(class, links string) ([]PortInfo, error) {
	entries, err := os.ReadDir(class) // sorted by name
	if err != nil {
		return nil, fmt.Errorf("list serial devices: %w", err)
	}
	stable := stableLinks(links)
	var ports []PortInfo
	for _, e := range entries {
		dir := filepath.Join(class, e.Name())
		device, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
		if err != nil || attribute(dir, "type") == "0" {
			continue // a console, or a place for a port that is not there
		}
		p := PortInfo{Path: "/dev/" + e.Name(), Stable: stable[e.Name()]}
		p.readUSB(device)
		ports = append(ports, p)
	}
	return ports, nil
}

// readUSB looks for the USB device at or above device.
func (p *PortInfo) readUSB(device string) {
	for range usbLevels {
		if vendor := attribute(device, "idVendor"); vendor != "" {
			p.USB = vendor + ":" + attribute(device, "idProduct")
			p.Product = attribute(device, "product")
			p.Serial = attribute(device, "serial")
			return
		}
		device = filepath.Dir(device)
	}
}

// attribute reads one file of sysfs; one that is not there is empty.
func attribute(dir, name string) string {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// stableLinks maps the name of each device to the link in folder that points
// to it.
func stableLinks(folder string) map[string]string {
	links := map[string]string{}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return links // no such device is plugged in
	}
	for _, e := range entries {
		link := filepath.Join(folder, e.Name())
		if device, err := os.Readlink(link); err == nil {
			links[filepath.Base(device)] = link
		}
	}
	return links
}
