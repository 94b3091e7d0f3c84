package main

import (
	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
)

// settingList is the answer in JSON.
type settingList struct {
	Settings []configs.Entry `json:"settings"`
}

func newConfigCmd(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:     "config",
		Short:   "The settings in force",
		Example: `  evenbeat config show`,
		Args:    cobra.NoArgs,
		RunE:    func(*cobra.Command, []string) error { return badCall("config: say what: show") },
	}
	c.AddCommand(&cobra.Command{
		Use:     "show",
		Short:   "Print what is in force, and where each value came from",
		Example: `  evenbeat config show --config bench.yaml`,
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			entries := a.loaded.Entries()
			if a.asJSON {
				return a.answer("", settingList{entries})
			}
			r := render.New(a.out)
			for _, e := range entries {
				r.Printf("%-28s %-44v %s\n", e.Key, e.Value, e.From)
			}
			return r.Err()
		},
	})
	return c
}
