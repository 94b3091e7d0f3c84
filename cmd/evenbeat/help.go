package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// newHelpCmd stands in the place of cobra's own, which ends with status 0 when it knows
// nothing of what it was asked.
func newHelpCmd() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Help about any command",
		Example: `  evenbeat help clock add`,
		// A settings file that is wrong must not keep the help away.
		PersistentPreRunE: func(*cobra.Command, []string) error { return nil },
		RunE: func(c *cobra.Command, args []string) error {
			about, rest, err := c.Root().Find(args)
			if err != nil {
				return asCall(err)
			}
			if len(rest) > 0 && about.HasSubCommands() {
				return noCommand(about, rest[0])
			}
			about.InitDefaultHelpFlag()
			return about.Help()
		},
		ValidArgsFunction: func(c *cobra.Command, args []string, typed string) (names []string, _ cobra.ShellCompDirective) {
			about, rest, err := c.Root().Find(args)
			if err == nil && len(rest) == 0 {
				for _, sub := range about.Commands() {
					if sub.IsAvailableCommand() && strings.HasPrefix(sub.Name(), typed) {
						names = append(names, sub.Name())
					}
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	}
}
