package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/configs"
)

// newHelpCmd stands in the place of cobra's own, which ends with status 0 when it knows
// nothing of what it was asked, and knows no topics.
func newHelpCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND|TOPIC]",
		Short: "Help about a command or a topic; alone, it lists both",
		Example: `  evenbeat help
  evenbeat help clock add
  evenbeat help sensor`,
		// A settings file that is wrong must not keep the help away.
		PersistentPreRunE: func(*cobra.Command, []string) error { return nil },
		RunE:              func(c *cobra.Command, args []string) error { return a.help(c.Root(), args) },
		ValidArgsFunction: func(c *cobra.Command, args []string, typed string) (names []string, _ cobra.ShellCompDirective) {
			about, rest, err := c.Root().Find(args)
			if err == nil && len(rest) == 0 {
				names = slices.DeleteFunc(helpedWith(about), func(s string) bool { return !strings.HasPrefix(s, typed) })
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	}
}

// help writes the help that args ask for: of a command, of a topic, or a list of both.
func (a *app) help(root *cobra.Command, args []string) error {
	topics := configs.Topics()
	if len(args) == 1 {
		if i := slices.IndexFunc(topics, func(t configs.Topic) bool { return t.Name == args[0] }); i >= 0 {
			return a.showTopic(topics[i])
		}
	}
	about, rest, err := root.Find(args)
	if err != nil {
		return asCall(err)
	}
	if len(rest) > 0 && about.HasSubCommands() {
		return badCall("there is no help about %q: %s", strings.Join(args, " "), configs.Meant(rest[0], helpedWith(about)))
	}
	about.InitDefaultHelpFlag()
	if err := about.Help(); err != nil || about != root {
		return err
	}
	r := render.New(a.out)
	r.Printf("\nTopics:\n")
	for _, t := range topics {
		r.Printf("  %-11s %s\n", t.Name, t.Title)
	}
	r.Printf("\nUse \"evenbeat help [topic]\" to read about a topic.\n")
	return r.Err()
}

// helpedWith lists what may follow c in a call of help: its commands, and all topics behind
// the program's own name.
func helpedWith(c *cobra.Command) []string {
	names := commandNames(c)
	if !c.HasParent() {
		names = append(names, configs.TopicNames()...)
	}
	return names
}

func (a *app) showTopic(t configs.Topic) error {
	w := a.out
	if v, ok := w.(visibleWriter); ok {
		w = v.Writer
	}
	r := render.New(a.out)
	r.Topic(t.Text, terminal.Columns(w))
	return r.Err()
}
