package yamlfile

import (
	"errors"
	"strings"

	"pressrig/units"
)

// mostShown bounds how much of a wrong value a message repeats.
const mostShown = 40

func short(s string) string {
	if r := []rune(s); len(r) > mostShown {
		return string(r[:mostShown]) + "..."
	}
	return s
}

// orList joins words as a person would: "a, b or c".
func orList(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// Near is the word of list that s was probably meant to be, "" for none: at
// most a third of its letters differ.
func Near(s string, list []string) string {
	if len(s) > mostShown {
		return ""
	}
	best, least := "", len(s)/3+2
	for _, w := range list {
		if d := distance(s, w); d < least && d < len(w) {
			best, least = w, d
		}
	}
	return best
}

func near(s string, list []string) string {
	if w := Near(s, list); w != "" && len(list) > 1 {
		return " (did you mean " + w + "?)"
	}
	return ""
}

// distance counts the letters to insert, remove or replace (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := diagonal
			if a[i-1] != b[j-1] {
				change++
			}
			diagonal = row[j]
			row[j] = min(change, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

// halves parts an error into what is wrong and what would be right.
func halves(err error) (what, right string) {
	var u *units.Error
	if errors.As(err, &u) {
		return u.What, u.Right
	}
	return err.Error(), "write the value with its unit"
}
