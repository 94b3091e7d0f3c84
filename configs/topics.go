package configs

import (
	"embed"
	"strings"
)

//go:embed topics/*.md
var topicFiles embed.FS

// Topic is a page of help that belongs to no single command, as Markdown. Its first line is
// its title.
type Topic struct{ Name, Title, Text string }

// TopicNames returns the names of the topics, without reading them.
func TopicNames() []string { return baseNames(topicFiles, "topics") }

// Topics returns all topics by name.
func Topics() []Topic {
	var all []Topic
	for _, name := range TopicNames() {
		text, _ := topicFiles.ReadFile("topics/" + name + ".md") // one that is built in can be read
		title, _, _ := strings.Cut(string(text), "\n")
		all = append(all, Topic{Name: name, Title: strings.TrimPrefix(title, "# "), Text: string(text)})
	}
	return all
}
