package files

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// Decimal commas: YAML takes them for the end of a number, so they have to be guessed at.

var digitsForm = regexp.MustCompile(`^\d+$`)
var integerForm = regexp.MustCompile(`^[+-]?\d+$`)
var commaRest = regexp.MustCompile(`^\d+ ?[A-Za-z%/]*$`)

// decimalCommas reports numbers with a decimal comma in braces, where {camber: 1,5} reads as a camber of 1 and
// a key 5 with nothing behind it. What was meant is put in their place, so that no second sentence follows.
func (w *walk) decimalCommas(f field) {
	if f.node.Style&yaml.FlowStyle == 0 {
		return
	}
	n := f.node
	for i := 2; i+1 < len(n.Content); i += 2 {
		before, k := n.Content[i-1], n.Content[i]
		if before.Kind != yaml.ScalarNode || isQuoted(before) || !integerForm.MatchString(before.Value) ||
			k.Kind != yaml.ScalarNode || isQuoted(k) || !commaRest.MatchString(k.Value) || !isNull(n.Content[i+1]) {
			continue
		}
		c := f.child(n.Content[i-2], before)
		w.bad(c, "is %s: decimal comma? Write %s", quoted(before.Value+","+k.Value), clip(before.Value+"."+k.Value))
		mended := *before
		mended.Value = before.Value + "." + k.Value
		n.Content[i-1] = &mended
		n.Content = slices.Delete(n.Content, i, i+2)
		i -= 2
	}
}

// wrongCount says that a point has too few or too many numbers, and guesses at decimal commas.
func wrongCount(texts []string, want string) string {
	plural := "numbers"
	if len(texts) == 1 {
		plural = "number"
	}
	if len(texts) > 3 && len(texts) <= 6 {
		// Of the pairs that can be one number, the one with the shortest second part is likeliest.
		best := -1
		for i := 0; i+1 < len(texts); i++ {
			if integerForm.MatchString(texts[i]) && digitsForm.MatchString(texts[i+1]) && (best < 0 || len(texts[i+1]) < len(texts[best+1])) {
				best = i
			}
		}
		if best >= 0 {
			return fmt.Sprintf("has %d %s; decimal comma? Write %s.%s", len(texts), plural, clip(texts[best]), clip(texts[best+1]))
		}
	}
	if len(texts) == 1 && len(strings.Fields(texts[0])) == 3 {
		return "has its numbers without commas; write [" + clip(strings.Join(strings.Fields(texts[0]), ", ")) + "]"
	}
	return fmt.Sprintf("has %d %s; write %s", len(texts), plural, want)
}
