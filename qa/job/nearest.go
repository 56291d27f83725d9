package job

import (
	"fmt"
	"strings"
)

// didYouMean returns `; did you mean "tolerance"?` for the one of the words that
// a slip of a few letters would turn into what was written, else "".
func didYouMean(written string, words []string) string {
	if w := nearest(written, words); w != "" {
		return fmt.Sprintf("; did you mean %q?", w)
	}
	return ""
}

// nearest returns the first of the words with the fewest changed, added, left
// out or swapped letters against what was written, at most a third of its
// letters and never more than 3; "" when none is that near.
func nearest(written string, words []string) string {
	best, least := "", 4
	for _, w := range words {
		a, b := []rune(strings.ToLower(written)), []rune(strings.ToLower(w))
		d := distance(a, b)
		if d < least && 3*d <= max(len(a), len(b)) {
			best, least = w, d
		}
	}
	return best
}

// distance counts the letters to change, add, leave out or swap with their
// neighbour between a and b.
func distance(a, b []rune) int {
	// rows i-2, i-1 and i of the usual table
	two, one, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range one {
		one[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := one[j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			row[j] = min(change, one[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], two[j-2]+1)
			}
		}
		two, one, row = one, row, two
	}
	return one[len(b)]
}
