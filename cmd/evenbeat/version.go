package main

import (
	"cmp"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions/book"
)

// unknownVersion is what a program calls itself that was built without the history of
// its source: from an unpacked copy, or with -buildvcs=false.
const unknownVersion = "unknown"

// identity is which program this is, and which books it writes.
type identity struct {
	Version string `json:"version,omitempty"` // a release's, or one made of the commit and its date
	Commit  string `json:"commit,omitempty"`  // of the source
	Date    string `json:"date,omitempty"`    // of the commit
	Dirty   *bool  `json:"dirty,omitempty"`   // the source had changes that the commit doesn't have
	Go      string `json:"go"`                // version of the compiler
	System  string `json:"system"`            // operating system and processor that it was built for
	Layout  int    `json:"layout"`            // of the books it writes
}

// identify reads what the linker noted of the source.
func identify(built *debug.BuildInfo) identity {
	id := identity{Version: unknownVersion, Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH, Layout: book.Layout()}
	if built == nil {
		return id
	}
	if v := built.Main.Version; v != "(devel)" {
		id.Version = cmp.Or(v, unknownVersion)
	}
	for _, s := range built.Settings {
		switch s.Key {
		case "vcs.revision":
			id.Commit = s.Value
		case "vcs.time":
			id.Date = s.Value
		case "vcs.modified":
			id.Dirty = new(s.Value == "true")
		case "GOARM":
			arm, _, _ := strings.Cut(s.Value, ",")
			id.System += "v" + arm
		}
	}
	return id
}

// self identifies the running program.
func self() identity {
	built, _ := debug.ReadBuildInfo()
	return identify(built)
}

// version is what this program calls itself in sheets, exports, JSON and faults.
var version = sync.OnceValue(func() string { return self().Version })

// write says it in a few lines.
func (id identity) write(w io.Writer) error {
	r := render.New(w)
	r.Printf("evenbeat %s\n", id.Version)
	commit := "not known: built without its source's history"
	if id.Commit != "" {
		commit = id.Commit
		if id.Dirty != nil && *id.Dirty {
			commit += ", and changes that are not committed"
		}
	}
	r.Row("commit", commit)
	r.Row("date", id.Date)
	r.Row("built with", fmt.Sprintf("%s for %s", id.Go, id.System))
	r.Row("book layout", fmt.Sprint(id.Layout))
	return r.Err()
}

// versionText is what --version prints.
func versionText() string {
	var b strings.Builder
	_ = self().write(&b) // a Builder takes all
	return b.String()
}

func newVersionCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "Which program this is: version, commit, date, Go, layout of the book",
		Example: `  evenbeat version --json`,
		Args:    cobra.NoArgs,
		// The settings aren't read: a report of a broken file needs the version too.
		PersistentPreRunE: func(*cobra.Command, []string) error { return nil },
		RunE: func(*cobra.Command, []string) error {
			if a.asJSON {
				id := self()
				id.Version = "" // every answer carries it
				return a.answer("", id)
			}
			return self().write(a.out)
		},
	}
}
