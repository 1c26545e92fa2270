package files

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"trammel/kin"
)

const (
	maxName  = 64
	maxTitle = 80
)

var nameForm = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]*$`)

// reserved are the bodies that no member makes.
var reserved = []string{kin.Frame, kin.Rack, kin.Upright, kin.Axle}

// sidePrefixes begin the names of what is on one side.
var sidePrefixes = []string{"left", "right", "opposite"}

// name checks the name of a point or member: it becomes part of columns, tables and drawings.
func nameComplaint(s string) string {
	switch {
	case slices.Contains(reserved, strings.ToLower(s)):
		return "is the name of a body that no member makes; choose another"
	case slices.Contains(sidePrefixes, strings.ToLower(s)):
		return "is a word for a side; choose another name"
	case len(s) > maxName:
		return fmt.Sprintf("is a name of more than %d letters; choose a shorter one", maxName)
	case !nameForm.MatchString(s):
		return "is no name; names begin with a letter a to z and go on with letters, digits, _ and -, without spaces: " + nameProposal(s)
	}
	return ""
}

var notInName = regexp.MustCompile(`[^A-Za-z0-9_-]+`)

func nameProposal(s string) string {
	p := strings.Trim(notInName.ReplaceAllString(clip(s), "_"), "_-")
	if p == "" || p[0] >= '0' && p[0] <= '9' {
		p = "p" + p
	}
	return p
}

// title returns a free name of the study's: one line of text.
func titleComplaint(s string) string {
	switch {
	case strings.TrimSpace(s) == "":
		return "is empty; give it a name"
	case strings.TrimSpace(s) != s:
		return "begins or ends with a space; take it away"
	case len([]rune(s)) > maxTitle:
		return fmt.Sprintf("has %d letters; %d are the most, so choose a shorter one", len([]rune(s)), maxTitle)
	case clip(s) != s && len([]rune(s)) <= 40:
		return "is a name of more than one line, or has invisible characters; write it in one line"
	case strings.ContainsAny(s, "\n\r\t"):
		return "is a name of more than one line; write it in one"
	}
	return ""
}

// FitTitle returns a name that a file may carry: the first part is cut short where both together have too many letters.
func FitTitle(first, second string) string {
	letters := []rune(first)
	if over := len(letters) + len([]rune(second)) - maxTitle; over > 0 {
		first = strings.TrimSpace(string(letters[:max(0, len(letters)-over)]))
	}
	return first + second
}

// ColumnName turns a name of the user's into part of a column's name: lower case, and one underscore
// for everything between letters and digits. It may be empty.
func ColumnName(s string) string {
	return strings.Trim(notInColumn.ReplaceAllString(strings.ToLower(s), "_"), "_")
}

var notInColumn = regexp.MustCompile(`[^a-z0-9]+`)

// distinct reports names that differ only in what columns do not keep: capitals, spaces, signs.
func (w *walk) distinct(entries []field, in map[string]string, what string) {
	for _, e := range entries {
		column := ColumnName(e.key.Value)
		if column == "" {
			w.at(e.keyPos(), e.path, "%s needs at least one letter a to z or digit in its name, which becomes the name of a column", quoted(e.key.Value))
			continue
		}
		if first, ok := in[column]; ok {
			w.at(e.keyPos(), e.path, "%s and %s would be one column, %s; rename one %s", quoted(first), quoted(e.key.Value), column, what)
			continue
		}
		in[column] = e.key.Value
	}
}
