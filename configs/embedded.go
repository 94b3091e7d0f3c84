package configs

import (
	"embed"
	"path"
	"strings"

	"go.yaml.in/yaml/v3"
)

// eachEmbedded calls do for each YAML file of a built-in folder. Tests find any fault in
// these files.
func eachEmbedded(files embed.FS, folder string, do func(name string, n *yaml.Node) error) error {
	entries, err := files.ReadDir(folder)
	if err != nil {
		return err
	}
	for _, e := range entries {
		name := path.Join(folder, e.Name())
		text, err := files.ReadFile(name)
		if err != nil {
			return err
		}
		n, err := parse(name, text)
		if err != nil {
			return err
		}
		if err := do(name, n); err != nil {
			return err
		}
	}
	return nil
}

// baseNames returns the names of the files in a built-in folder, without their endings.
func baseNames(files embed.FS, folder string) []string {
	entries, _ := files.ReadDir(folder) // a folder that is built in can be read
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = strings.TrimSuffix(e.Name(), path.Ext(e.Name()))
	}
	return names
}

// list returns the items of a list in the user's file; nil for no list.
func list(n *yaml.Node, file, name string) ([]*yaml.Node, error) {
	if n == nil {
		return nil, nil
	}
	if n.Kind != yaml.SequenceNode {
		return nil, at(Source{File: file, Line: n.Line}, "%s must be a list: begin each of its items with a dash", name)
	}
	return n.Content, nil
}
