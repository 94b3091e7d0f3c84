package sessions

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"evenbeat/devices/quantity"
)

// Particular is one thing told or seen of a clock, its job or a part, that no instrument
// measures. The newest of a part and name rules, but for photographs, which all count.
type Particular struct {
	ID      int64
	ClockID int64
	At      time.Time
	Part    string // "" where it is of the clock or the job
	Name    string // one of ParticularNames
	Value   string
}

// The names of particulars.
const (
	Customer  = "customer"
	JobNumber = "job"
	Serial    = "serial"
	MakerMark = "mark"
	Complaint = "complaint" // what is wrong, in the customer's own words
	Photo     = "photo"     // name of a file in the folder beside the book

	SpringEnd  = "end"
	Direction  = "direction"
	BarrelHook = "barrel-hook"
	ArborHook  = "arbor-hook"
	Cover      = "cover"
	Set        = "set"
)

// What BarrelHook and ArborHook can be.
const (
	Sound   = "sound"
	Unsound = "unsound"
)

// ParticularName is what can be told or seen: its name, and what its value may be.
type ParticularName struct {
	Name   string
	Says   string   // for help
	OfPart bool     // it belongs to a part, not to the clock or the job
	Values []string // those allowed; nil for free words
}

// ParticularNames lists what can be recorded, in the order in which it is shown.
func ParticularNames() []ParticularName {
	return []ParticularName{
		{Name: Customer, Says: "whose clock it is"},
		{Name: JobNumber, Says: "the number of the job"},
		{Name: Serial, Says: "the serial number"},
		{Name: MakerMark, Says: "the maker's mark, and where it stands"},
		{Name: Complaint, Says: "what is wrong, in the customer's own words"},
		{Name: Photo, Says: "a photograph, .jpg or .png"},
		{Name: SpringEnd, OfPart: true, Says: "the outer end of the spring", Values: []string{"hole", "loop", "T-end"}},
		{Name: Direction, OfPart: true, Says: "which way it winds, seen from the winding square", Values: []string{"clockwise", "anticlockwise"}},
		{Name: BarrelHook, OfPart: true, Says: "the hook in the barrel", Values: []string{Sound, Unsound}},
		{Name: ArborHook, OfPart: true, Says: "the hook of the arbor", Values: []string{Sound, Unsound}},
		{Name: Cover, OfPart: true, Says: "how the barrel's cover sits", Values: []string{"tight", "loose", "damaged", "none"}},
		{Name: Set, OfPart: true, Says: "how much set the spring has taken, lying free", Values: []string{"none", "slight", "heavy"}},
	}
}

// KnownParticular returns what can be recorded under a name.
func KnownParticular(name string) (ParticularName, bool) {
	all := ParticularNames()
	i := slices.IndexFunc(all, func(n ParticularName) bool { return n.Name == name })
	if i < 0 {
		return ParticularName{}, false
	}
	return all[i], true
}

// Fix returns an allowed value as the book writes it, whatever its case, and any other
// as it is.
func (n ParticularName) Fix(value string) string {
	for _, v := range n.Values {
		if strings.EqualFold(v, value) {
			return v
		}
	}
	return value
}

// mostWords is how many characters the customer's own words may have: they fit on the
// customer's page.
const mostWords = 600

// Validate checks a particular.
func (p Particular) Validate(now time.Time) error {
	if err := validTime(p.At, now); err != nil {
		return err
	}
	known, ok := KnownParticular(p.Name)
	switch {
	case !ok:
		var names []string
		for _, n := range ParticularNames() {
			names = append(names, n.Name)
		}
		return quantity.BadInput("name", fmt.Sprintf("%q is not known", p.Name), "use "+strings.Join(names, ", "))
	case known.OfPart:
		if err := quantity.CheckName("part", p.Part); err != nil {
			return err
		}
	case p.Part != "":
		return quantity.BadInput("part", fmt.Sprintf("%q", p.Part), p.Name+" belongs to the whole clock, not to a part")
	}
	return known.check(p.Value)
}

func (n ParticularName) check(value string) error {
	switch {
	case n.Values != nil && !slices.Contains(n.Values, value):
		return quantity.BadInput(n.Name, fmt.Sprintf("%q is not known", value), "use "+strings.Join(n.Values, ", "))
	case n.Name == Photo && !isPhotoName(value):
		return quantity.BadInput(n.Name, fmt.Sprintf("%q", value), "must be the name of a file that ends in .jpg or .png, without a folder")
	case n.Name != Complaint:
		return quantity.CheckName(n.Name, value)
	case strings.TrimSpace(value) == "":
		return quantity.BadInput(n.Name, "", "there are no words")
	case utf8.RuneCountInString(value) > mostWords:
		return quantity.BadInput(n.Name, fmt.Sprintf("%.20q…", value), fmt.Sprintf("at most %d characters fit on the customer's page", mostWords))
	case quantity.Visible(value) != value:
		return quantity.BadInput(n.Name, fmt.Sprintf("%.20q…", value), "there are control characters in it")
	}
	return nil
}

// isPhotoName reports whether a name leads to a picture in the folder of photographs
// itself, on every system.
func isPhotoName(name string) bool {
	ending := strings.ToLower(filepath.Ext(name))
	return (ending == ".jpg" || ending == ".jpeg" || ending == ".png") && !strings.ContainsAny(name, `/\:`) && !strings.HasPrefix(name, ".")
}

// Particular returns what rules of a part and name; zero where nothing is recorded, or
// where the part was replaced since.
func (r Record) Particular(part, name string) Particular {
	var newest Particular
	for _, p := range r.Particulars { // in order of time
		if p.Part == part && p.Name == name && !r.replacedSince(p) {
			newest = p
		}
	}
	return newest
}

// Photos returns the names of the photographs, each once, in order of time.
func (r Record) Photos() (names []string) {
	for _, p := range r.Particulars {
		if p.Name == Photo && !slices.Contains(names, p.Value) {
			names = append(names, p.Value)
		}
	}
	return names
}
