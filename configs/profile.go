package configs

import (
	"cmp"
	"embed"
	"fmt"
	"path"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"evenbeat/devices/quantity"
	"evenbeat/sessions/plan"
)

//go:embed profiles/*.yaml
var profileFiles embed.FS

// Kinds of instrument.
const (
	KindCaliper    = "caliper"
	KindMicrometer = "micrometer"
	KindIndicator  = "indicator"
	KindBeat       = "beat"
	KindAir        = "air"
	KindReference  = "reference"
	KindForce      = "force"
)

// Profile is what must be known of an instrument to understand it: its port settings, its
// wire format, and how far its readings can be trusted. Each wire format has a profile of
// its name. The folder profiles holds the others that are built in.
type Profile struct {
	Name   string `mapstructure:"name" json:"name"`     // that commands take
	Title  string `mapstructure:"title" json:"title"`   // what it is, in a few words
	Format string `mapstructure:"format" json:"format"` // wire format: text-length, count-lines …
	Kind   string `mapstructure:"kind" json:"kind"`     // one of the kinds of instrument

	Baud          int     `mapstructure:"baud" json:"baud"`                                // 300 to 921600
	Bits          int     `mapstructure:"bits" json:"bits"`                                // 7 or 8
	Parity        string  `mapstructure:"parity" json:"parity"`                            // none, even or odd
	Stop          float64 `mapstructure:"stop" json:"stop"`                                // 1, 1.5 or 2
	DTR           *bool   `mapstructure:"dtr" json:"dtr,omitzero"`                         // nil: left as the system has it
	RTS           *bool   `mapstructure:"rts" json:"rts,omitzero"`                         // the same
	Request       string  `mapstructure:"request" json:"request,omitzero"`                 // sent to a polled instrument
	RequestEveryS float64 `mapstructure:"request_every_s" json:"request_every_s,omitzero"` // how often that is sent

	// Unit is assumed for readings whose line names none; "" refuses those.
	Unit           string  `mapstructure:"unit" json:"unit,omitzero"`
	ResolutionMM   float64 `mapstructure:"resolution_mm" json:"resolution_mm,omitzero"`       // 0: as the digits sent show
	LimitOutsideMM float64 `mapstructure:"limit_outside_mm" json:"limit_outside_mm,omitzero"` // ± limit of error; 0: not known
	LimitInsideMM  float64 `mapstructure:"limit_inside_mm" json:"limit_inside_mm,omitzero"`   // inside and depth; 0: not known

	CountRate float64 `mapstructure:"count_rate" json:"count_rate,omitzero"` // counts a second, nominal; 0: no count
	CountBits int     `mapstructure:"count_bits" json:"count_bits,omitzero"` // 16, 24, 32 or 64; 0: no count

	From Source `json:"from,omitzero"` // file and line of a user's own; none for one that is built in
}

// BuiltIn reports whether the profile came with the program.
func (p Profile) BuiltIn() bool { return p.From == Source{} }

// Profiles returns the built-in profiles and the user's, by name.
func (l Loaded) Profiles() ([]Profile, error) { return l.profiles() }

// Profile returns the profile of that name. For an unknown name the *Error lists those there
// are.
func (l Loaded) Profile(name string) (Profile, error) {
	all, err := l.profiles()
	if err != nil {
		return Profile{}, err
	}
	return named("profile", name, all, func(p Profile) string { return p.Name })
}

// profileSet gathers profiles. A later one replaces an earlier one of its name.
type profileSet struct {
	formats []string // the wire formats known
	all     []Profile
}

// profiles returns all profiles by name: those of the wire formats, the others that are
// built in, and those of the user's file.
func profiles(file read, formats []Profile) ([]Profile, error) {
	var set profileSet
	for _, p := range formats {
		set.formats = append(set.formats, p.Name)
	}
	for _, p := range formats {
		p.Format, p.Baud, p.Bits, p.Parity, p.Stop = p.Name, cmp.Or(p.Baud, 9600), 8, "none", 1
		if err := set.add(p); err != nil {
			return nil, err
		}
	}
	err := eachEmbedded(profileFiles, "profiles", func(name string, n *yaml.Node) error {
		p, err := set.read(n, name, strings.TrimSuffix(path.Base(name), ".yaml"))
		if err != nil {
			return err
		}
		p.From = Source{}
		return set.add(p)
	})
	if err != nil {
		return nil, err
	}
	own, err := list(file.profiles, file.file, "profiles")
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, n := range own {
		p, err := set.read(n, file.file, "")
		if err != nil {
			return nil, err
		}
		if seen[p.Name] {
			return nil, at(p.From, "profile %s is given twice: keep one", p.Name)
		}
		seen[p.Name] = true
		if err := set.add(p); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(set.all, func(a, b Profile) int { return strings.Compare(a.Name, b.Name) })
	return set.all, nil
}

// add checks p, and adds it or puts it in place of the one of its name.
func (s *profileSet) add(p Profile) error {
	if err := p.check(s.formats); err != nil {
		return at(p.From, "profile %s: %s", p.Name, err)
	}
	s.all = append(slices.DeleteFunc(s.all, func(q Profile) bool { return q.Name == p.Name }), p)
	return nil
}

// read reads a profile over another: over the known one of its name, or else over that of
// its format. What it doesn't give stays. name is for a profile that doesn't name itself.
func (s *profileSet) read(n *yaml.Node, file, name string) (Profile, error) {
	given := Profile{Name: name}
	f := filler{file: file, words: wordsOf(reflect.TypeFor[Profile](), ""), lines: map[string]int{}}
	if err := f.fill(n, reflect.ValueOf(&given).Elem(), ""); err != nil {
		return Profile{}, err
	}
	from := Source{File: file, Line: n.Line}
	if given.Name == "" {
		return Profile{}, at(from, "a profile must have a name: add name: to it")
	}
	called := func(name string) func(Profile) bool { return func(p Profile) bool { return p.Name == name } }
	i := slices.IndexFunc(s.all, called(given.Name))
	if i < 0 {
		i = slices.IndexFunc(s.all, called(given.Format))
	}
	if i < 0 && given.Format == "" {
		return Profile{}, at(from, "profile %s names no wire format: add format: to it, such as text-length", given.Name)
	}
	var p Profile
	if i >= 0 {
		p = s.all[i]
	}
	// Filled again, over the other. It succeeded the first time, so it can't fail now.
	if err := f.fill(n, reflect.ValueOf(&p).Elem(), ""); err != nil {
		return Profile{}, err
	}
	p.Name, p.From = given.Name, from
	return p, nil
}

// check refuses what no instrument could be.
func (p Profile) check(formats []string) error {
	kinds := []string{KindCaliper, KindMicrometer, KindIndicator, KindBeat, KindAir, KindReference, KindForce}
	length := slices.Contains(kinds[:3], p.Kind)
	_, lengthUnit := quantity.ParseUnit(p.Unit)
	forces := []string{"N", "kgf", "gf", "ozf", "Nm", "Nmm"}
	switch {
	case !plan.PlainName(p.Name):
		return fmt.Errorf("a name is small letters, digits and hyphens")
	case !slices.Contains(formats, p.Format):
		return fmt.Errorf("format %q is not known: %s", p.Format, Meant(p.Format, formats))
	case !slices.Contains(kinds, p.Kind):
		return fmt.Errorf("kind %q is not known: use %s", p.Kind, choice(kinds))
	case p.Baud < 300 || p.Baud > 921600:
		return fmt.Errorf("baud %d: must be 300 to 921600", p.Baud)
	case p.Bits != 7 && p.Bits != 8:
		return fmt.Errorf("bits %d: must be 7 or 8", p.Bits)
	case !slices.Contains([]string{"none", "odd", "even", "mark", "space"}, p.Parity):
		return fmt.Errorf("parity %q is not known: use none, odd, even, mark or space", p.Parity)
	case !slices.Contains([]float64{1, 1.5, 2}, p.Stop):
		return fmt.Errorf("stop %v: must be 1, 1.5 or 2", p.Stop)
	case len(p.Request) > 64:
		return fmt.Errorf("request of %d bytes: must be at most 64", len(p.Request))
	case p.Request != "" && !(p.RequestEveryS >= 0.05 && p.RequestEveryS <= 3600):
		return fmt.Errorf("request_every_s %v: must be 0.05 to 3600", p.RequestEveryS)
	case p.Unit != "" && length && !lengthUnit:
		return fmt.Errorf("unit %q is not known: use mm, cm, m, um, in or thou", p.Unit)
	case p.Unit != "" && p.Kind == KindForce && !slices.Contains(forces, p.Unit):
		return fmt.Errorf("unit %q is not known: use %s", p.Unit, choice(forces))
	case p.Unit != "" && !length && p.Kind != KindForce:
		return fmt.Errorf("unit %q: a %s instrument has none: leave it out", p.Unit, p.Kind)
	}
	return p.checkFigures()
}

func (p Profile) checkFigures() error {
	for _, f := range []struct {
		name string
		mm   float64
	}{{"resolution_mm", p.ResolutionMM}, {"limit_outside_mm", p.LimitOutsideMM}, {"limit_inside_mm", p.LimitInsideMM}} {
		if f.mm < 0 || f.mm > 10 {
			return fmt.Errorf("%s %v: must be 0 (not known) to 10", f.name, f.mm)
		}
	}
	switch {
	case p.CountRate < 0 || p.CountRate > 1e10:
		return fmt.Errorf("count_rate %v: must be 0 (no count) to 1e+10 counts a second", p.CountRate)
	case !slices.Contains([]int{0, 16, 24, 32, 64}, p.CountBits):
		return fmt.Errorf("count_bits %d: must be 16, 24, 32 or 64", p.CountBits)
	case (p.CountRate == 0) != (p.CountBits == 0):
		return fmt.Errorf("count_rate %v and count_bits %d: give both or neither", p.CountRate, p.CountBits)
	}
	return nil
}
