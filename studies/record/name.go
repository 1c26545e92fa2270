package record

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// plainLetters are the letters that Unicode does not take apart into a base and a mark.
var plainLetters = map[rune]string{
	'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'đ': "d", 'ð': "d", 'þ': "th", 'ł': "l", 'ħ': "h", 'ı': "i",
}

// ColumnName joins words that a user may have chosen into one flat name of a column.
//
// Letters become small; accents are taken off (é is e, å is a, ß is ss); every other letter or
// digit outside a-z and 0-9 becomes u and its code point in hexadecimal; whatever lies between
// becomes one underscore, and none stands at either end. A name that would begin with a digit gets
// an n before it. So "bump steer" is bump_steer and "damper.length" is damper_length. A word
// of signs alone is spelt by their code points; no words at all are unnamed.
//
// Two names of a user's can meet in one column: see Collisions.
func ColumnName(words ...string) string {
	parts := make([]string, 0, len(words))
	for _, w := range words {
		if w == "" {
			continue
		}
		part := snake(w)
		if part == "" {
			for _, r := range w {
				part += fmt.Sprintf("u%04x", r)
			}
		}
		parts = append(parts, part)
	}
	name := strings.Join(parts, "_")
	if name == "" {
		return "unnamed"
	}
	if name[0] >= '0' && name[0] <= '9' {
		return "n" + name
	}
	return name
}

// snake turns one word into small letters, digits and single underscores; empty when it has none.
func snake(word string) string {
	var b strings.Builder
	gap := false
	for _, r := range norm.NFKD.String(strings.ToLower(word)) {
		if unicode.Is(unicode.Mn, r) {
			continue // the accent that was taken off
		}
		s := string(r)
		switch {
		case r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			s = strings.ToLower(s)
		case plainLetters[r] != "":
			s = plainLetters[r]
		case unicode.IsLetter(r) || unicode.IsNumber(r):
			s = fmt.Sprintf("u%04x", r)
		default:
			gap = true
			continue
		}
		if gap && b.Len() > 0 {
			b.WriteByte('_')
		}
		gap = false
		b.WriteString(s)
	}
	return b.String()
}

// Collision is a column that several of a user's names would share.
type Collision struct {
	Column string
	Names  []string // in the order given
}

// String says what collides and what would be right.
func (c Collision) String() string {
	quoted := make([]string, len(c.Names))
	for i, n := range c.Names {
		quoted[i] = fmt.Sprintf("%q", n)
	}
	return fmt.Sprintf("the names %s would all be the column %s; give them names that differ in letters or digits", strings.Join(quoted, ", "), c.Column)
}

// Collisions returns the columns that more than one of the different names given would become,
// in the order of their first names. Pass the names that share a prefix and a unit together.
func Collisions(names []string) []Collision {
	var all []Collision
	place := map[string]int{}
	for _, n := range names {
		column := ColumnName(n)
		i, ok := place[column]
		if !ok {
			i = len(all)
			place[column] = i
			all = append(all, Collision{Column: column})
		}
		if !slices.Contains(all[i].Names, n) {
			all[i].Names = append(all[i].Names, n)
		}
	}
	return slices.DeleteFunc(all, func(c Collision) bool { return len(c.Names) < 2 })
}

// isColumnName says whether a name is flat lower_snake and begins with a letter.
func isColumnName(s string) bool {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return false
	}
	for i := range len(s) {
		if c := s[i]; (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' {
			return false
		}
	}
	return true
}
