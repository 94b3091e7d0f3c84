package live

import (
	"fmt"
	"strings"
	"testing"

	"evenbeat/configs"
	"evenbeat/devices/formats"
)

// Each wire format has a profile of its name, which passes every check of profiles.
func TestFormatsHaveProfiles(t *testing.T) {
	l, err := configs.Load(configs.LoadOptions{Formats: FormatProfiles()})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range formats.All() {
		p, err := l.Profile(f.Name)
		if err != nil || p.Format != f.Name || p.Title == "" || !p.BuiltIn() {
			t.Errorf("%s: %+v, %v", f.Name, p, err)
		}
		names = append(names, f.Name)
	}
	if all, err := l.Profiles(); err != nil || len(all) < len(names) {
		t.Errorf("%d profiles of %d wire formats, %v", len(all), len(names), err)
	}
	_, err = l.Profile("xyzzy")
	for _, name := range append(names, "caliper", "micrometer", "beat-counter") {
		if !strings.Contains(fmt.Sprint(err)+" ", name) {
			t.Errorf("the error doesn't name %s: %v", name, err)
		}
	}
}
