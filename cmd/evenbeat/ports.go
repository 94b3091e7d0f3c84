package main

import (
	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
)

func newPortsCmd(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "ports",
		Short: "List serial ports; watch what arrives at one; list the instrument profiles",
		Example: `  evenbeat ports
  evenbeat ports watch /dev/ttyUSB0
  evenbeat ports profiles`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return a.listPorts() },
	}
	c.AddCommand(newPortsProfilesCmd(a), newPortsWatchCmd(a))
	return c
}

type portList struct {
	Ports []portLine `json:"ports"` // all that are there or named in the settings
}

type portLine struct {
	Name    string `json:"name"`                    // that commands take
	USB     string `json:"usb,omitempty"`           // vendor:product
	Serial  string `json:"serial,omitempty"`        // number of the device
	Place   string `json:"place,omitempty"`         // socket that it is plugged into
	Product string `json:"says,omitempty"`          // what the device calls itself
	Given   bool   `json:"from_settings,omitempty"` // named in the settings file
	Gone    bool   `json:"gone,omitempty"`          // named in the settings and not there
}

func (a *app) listPorts() error {
	all, err := a.bench().Ports()
	if err != nil {
		return err
	}
	lines := make([]portLine, len(all))
	for i, p := range all {
		lines[i] = portLine{Name: p.Name, Serial: p.USB.Serial, Place: p.USB.Place, Product: p.USB.Text, Given: p.Given, Gone: p.Gone}
		if p.USB.Known() {
			lines[i].USB = p.USB.Vendor + ":" + p.USB.Product
		}
	}
	if a.asJSON {
		return a.answer("", portList{lines})
	}
	r := render.New(a.out)
	for _, p := range all {
		r.Printf("%-16s %s\n", p.Name, p.Identity())
	}
	if len(lines) == 0 {
		r.Say("No serial port: plug the instrument in and look again.")
	}
	return r.Err()
}

type profileList struct {
	Profiles []configs.Profile `json:"profiles"` // all that are built in, and the user's own
}

func newPortsProfilesCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "profiles",
		Short:   "List the instrument profiles, built in and your own",
		Example: `  evenbeat ports profiles`,
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			all, err := a.loaded.Profiles()
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.answer("", profileList{all})
			}
			r := render.New(a.out)
			for _, p := range all {
				whose := ""
				if !p.BuiltIn() {
					whose = "  (" + p.From.String() + ")"
				}
				r.Printf("%-16s %-15s %6d baud %d%.1s%g  %s%s\n", p.Name, p.Format, p.Baud, p.Bits, p.Parity, p.Stop, p.Title, whose)
			}
			return r.Err()
		},
	}
}
