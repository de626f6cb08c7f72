package main

import (
	"fmt"
	"text/tabwriter"

	"pressrig/drivers"
)

type portsCmd struct{}

// port is a serial port as --json prints it.
type port struct {
	Path    string `json:"path"`
	Stable  string `json:"stable,omitempty"`
	USB     string `json:"usb,omitempty"`
	Product string `json:"product,omitempty"`
	Serial  string `json:"serial,omitempty"`
}

// Run lists the serial ports. It opens none: opening resets some boards.
func (portsCmd) Run(e *env) error {
	found, err := drivers.Ports()
	if err != nil {
		return err
	}
	list := []port{}
	for _, p := range found {
		list = append(list, port(p))
	}
	return e.printPorts(list)
}

func (e *env) printPorts(list []port) error {
	if e.flags.JSON {
		return e.printJSON(list)
	}
	if len(list) == 0 {
		_, err := fmt.Fprintln(e.out, "no serial ports; is the rig's cable in?")
		return err
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "PORT\tUSB\tPRODUCT\tSERIAL")
	for _, p := range list {
		name := p.Path
		if p.Stable != "" {
			name = p.Stable
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", name, dash(p.USB), dash(p.Product), dash(p.Serial))
	}
	return w.Flush()
}

// dash stands where there is nothing.
func dash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
