// Command notices writes the licences of all that is linked into programs of ours, as
// whoever hands the programs on has to hand on too. It fails when a module's licence is
// not known, or is none of those that may be linked.
//
//	go run -modfile=.ci/tools.mod .ci/notices/main.go PROGRAM...
package main

import (
	"cmp"
	"debug/buildinfo"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"

	"github.com/google/licensecheck"
)

// accepted are the licences that may be linked.
var accepted = []string{"Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "BSL-1.0", "CC-BY-4.0", "FTL", "GooglePatentsFile", "ISC", "MIT", "MIT-0", "MPL-2.0", "OFL-1.1", "Unlicense"}

// mustHold are licences that ask for their notice and are easily lost: those of the
// fonts, of the writer of SVG, and of the rasteriser.
var mustHold = []string{"OFL-1.1", "CC-BY-4.0", "FTL"}

var (
	isLicence = regexp.MustCompile(`(?i)(licen[cs]e|copying|notice|patents|unlicense|ftl)`)
	// Where a module may be had by either of two licences, the other one is taken.
	notTaken = regexp.MustCompile(`(?i)^gpl`)
)

type module struct{ Path, Version, Dir string }

func main() {
	if err := write(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "notices:", err)
		os.Exit(1)
	}
}

func write(programs []string) error {
	modules, err := linked(programs)
	if err != nil {
		return err
	}
	fmt.Print("What is linked into evenbeat, and by which licences. Each text follows, as its authors wrote it.\n\n")
	var texts strings.Builder
	held := map[string]bool{}
	var wrong error
	for _, m := range modules {
		ids, text, err := licences(m)
		wrong = errors.Join(wrong, err)
		fmt.Printf("  %s %s: %s\n", m.Path, m.Version, strings.Join(ids, ", "))
		fmt.Fprintf(&texts, "\n%s\n%s %s\n%s\n%s", strings.Repeat("=", 80), m.Path, m.Version, strings.Repeat("=", 80), text)
		for _, id := range ids {
			held[id] = true
		}
	}
	for _, id := range mustHold {
		if !held[id] {
			wrong = errors.Join(wrong, fmt.Errorf("%s is no longer found: is its notice lost?", id))
		}
	}
	fmt.Print(texts.String())
	return wrong
}

// linked returns the modules in any of the programs, by name, and Go's own packages.
func linked(programs []string) ([]module, error) {
	all := map[string]bool{}
	for _, p := range programs {
		info, err := buildinfo.ReadFile(p)
		if err != nil {
			return nil, err
		}
		for _, d := range info.Deps {
			all[d.Path] = true
		}
	}
	if len(all) == 0 {
		return nil, errors.New("no module is linked into what was named")
	}
	out, err := exec.Command("go", append([]string{"list", "-m", "-json"}, slices.Sorted(maps.Keys(all))...)...).Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("go env: %w", err)
	}
	modules := []module{{"Go's standard library", runtime.Version(), strings.TrimSpace(string(root))}}
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		var m module
		if err := d.Decode(&m); err != nil {
			return nil, err
		}
		modules = append(modules, m)
	}
	return modules, nil
}

// licences returns what a module's licence files are, and their texts.
func licences(m module) (ids []string, text string, err error) {
	var names []string
	for _, pattern := range []string{"*", "licenses/*", "THIRD_PARTY_LICENSES/*"} {
		found, err := filepath.Glob(filepath.Join(m.Dir, pattern))
		if err != nil {
			return nil, "", err
		}
		names = append(names, found...)
	}
	for _, name := range names {
		rel, _ := filepath.Rel(m.Dir, name) // it lies beneath
		info, err := os.Stat(name)
		if err != nil {
			return nil, "", err
		}
		if !isLicence.MatchString(rel) || notTaken.MatchString(info.Name()) || info.IsDir() || strings.HasSuffix(rel, ".go") {
			continue
		}
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, "", err
		}
		text += fmt.Sprintf("\n%s:\n\n%s\n", filepath.ToSlash(rel), strings.TrimSpace(string(data)))
		for _, match := range licensecheck.Scan(data).Match {
			ids = append(ids, match.ID)
		}
	}
	slices.SortFunc(ids, cmp.Compare)
	ids = slices.Compact(ids)
	if len(ids) == 0 {
		return nil, text, fmt.Errorf("%s %s: its licence is not known", m.Path, m.Version)
	}
	for _, id := range ids {
		if !slices.Contains(accepted, id) {
			err = errors.Join(err, fmt.Errorf("%s %s: %s is not accepted", m.Path, m.Version, id))
		}
	}
	return ids, text, err
}
