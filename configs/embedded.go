package configs

import (
	"embed"
	"path"

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
