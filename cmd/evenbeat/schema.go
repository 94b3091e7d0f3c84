package main

import (
	"embed"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/configs"
)

//go:embed schemas
var schemaFiles embed.FS

// schemaFile names the file that describes the answers of a command in JSON, by the
// command's path without the program's name.
func schemaFile(command string) string {
	return "schemas/" + strings.ReplaceAll(command, " ", "-") + ".json"
}

// described are the commands whose answers in JSON are described.
func described() []string {
	files, _ := schemaFiles.ReadDir("schemas") // it is embedded
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.ReplaceAll(strings.TrimSuffix(f.Name(), ".json"), "-", " ")
	}
	slices.Sort(names)
	return names
}

func newSchemaCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "schema [COMMAND]",
		Short: "Describe what a command answers to --json: each name, its meaning and unit",
		Long: `Write the JSON Schema (draft 2020-12) of what a command answers to --json: each name,
what it means and in which unit, and which are always there. Without a command, list
those that answer in JSON. For export it is what a file that ends in .json holds.

Every answer carries at, version and schema, and clock where one is meant; where an
answer is many lines, the first does. The number schema goes up when a name goes away or
comes to mean something else. New names may come at any time: a program that reads the
answers should pass over those that it doesn't know.`,
		Example: `  evenbeat schema going
  evenbeat schema clock show`,
		Args: cobra.ArbitraryArgs,
		// The settings aren't read: what they say changes nothing here.
		PersistentPreRunE: func(*cobra.Command, []string) error { return nil },
		RunE: func(_ *cobra.Command, args []string) error {
			command := strings.Join(args, " ")
			if command == "" {
				_, err := a.out.Write([]byte(strings.Join(described(), "\n") + "\n"))
				return err
			}
			text, err := schemaFiles.ReadFile(schemaFile(command))
			if err != nil {
				return badCall("schema %s: no such answer: %s", command, configs.Meant(command, described()))
			}
			_, err = a.out.Write(text)
			return err
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, typed string) (words []string, _ cobra.ShellCompDirective) {
			for _, command := range described() {
				path := strings.Fields(command)
				if n := len(args); n < len(path) && slices.Equal(path[:n], args) && strings.HasPrefix(path[n], typed) {
					words = append(words, path[n])
				}
			}
			return slices.Compact(words), cobra.ShellCompDirectiveNoFileComp
		},
	}
}
