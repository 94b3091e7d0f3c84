package quantity

import (
	"slices"
	"strings"
)

// wordUnits stay on the line of their number.
var wordUnits = []string{"mm", "in", "ms", "s", "min", "h", "days", "s/day", "turns", "%", "°", "ppm", "K", "N·m", "J", "GPa"}

// Words cuts a sentence where a line may end: a value stays with its interval and its
// unit.
func Words(text string) (all []string) {
	for word := range strings.FieldsSeq(text) {
		last := len(all) - 1
		bound := last >= 0 && (word == "±" || strings.HasSuffix(all[last], "±"))
		if last >= 0 && slices.Contains(wordUnits, strings.TrimRight(word, ".,;:)")) {
			end := all[last][len(all[last])-1]
			bound = bound || '0' <= end && end <= '9'
		}
		if bound {
			all[last] += " " + word
		} else {
			all = append(all, word)
		}
	}
	return all
}

// Plural picks the form of a word that goes with n.
func Plural(n int64, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
