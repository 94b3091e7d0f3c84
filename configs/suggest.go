package configs

import (
	"fmt"
	"strings"
)

// Meant returns the remedy for an unknown word: the known one that was probably meant. If
// none is near, it names all, or the nearest if there are very many.
func Meant(word string, known []string) string {
	best, distance := "", len(word)+100
	for _, k := range known {
		// The group is missing, or the unit behind the name.
		if lastPart(k) == word || strings.HasPrefix(k, word+"_") {
			return "did you mean " + k + "?"
		}
		if d := edits(strings.ToLower(word), strings.ToLower(k)); d < distance {
			best, distance = k, d
		}
	}
	switch {
	case distance <= 1+len(word)/3:
		return "did you mean " + best + "?"
	case len(known) <= 20:
		return "use " + choice(known)
	}
	return "the nearest known is " + best
}

func lastPart(key string) string { return key[strings.LastIndexByte(key, '.')+1:] }

// edits counts the letters to insert, delete, change, or swap with their neighbour (the
// commonest typing error) to turn a into b: the restricted Damerau-Levenshtein distance.
func edits(a, b string) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before, last, row = last, row, before
		row[0] = i + 1
		for j := range len(b) {
			change := 1
			if a[i] == b[j] {
				change = 0
			}
			row[j+1] = min(last[j]+change, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
	}
	return row[len(b)]
}

// named returns the one of that name. If there is none, the *Error names those there are.
func named[T any](kind, name string, all []T, nameOf func(T) string) (T, error) {
	names := make([]string, len(all))
	for i, x := range all {
		if names[i] = nameOf(x); names[i] == name {
			return x, nil
		}
	}
	var none T
	return none, &Error{Problem: fmt.Sprintf("%s %s is not known: %s", kind, name, Meant(name, names))}
}
