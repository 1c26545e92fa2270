package files

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// ReadFile returns the contents of the file at path; os.ReadFile and the ReadFile method of an fs.FS
// serve. Files that another file names are asked for by a path relative to the folder of that file.
type ReadFile func(path string) ([]byte, error)

// Position is a place in a text file; both numbers count from 1, columns in characters.
type Position struct {
	Line, Column int
}

// Problem is one mistake, or one remark, at one place of a file.
type Problem struct {
	File string // as it was asked for
	Position
	Path    string // where in the file's own structure: members.tie_rod.ends
	Message string // a sentence without its full stop: what is wrong, and what would be right
}

// String returns `file:line:column: sentence.`
func (p Problem) String() string {
	return fmt.Sprintf("%s:%d:%d: %s.", p.File, p.Line, p.Column, p.Message)
}

// Problems are all mistakes of a file and of the files it names, in the order of their places. It is
// the type of every error that ReadGeometry and ReadStudy return.
type Problems []Problem

// Error returns one line for each problem.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// sorted orders by file (the first one given, then in order of first mention), line and column, and
// drops exact repetitions.
func (ps Problems) sorted(first string) Problems {
	order := map[string]int{first: 0}
	for _, p := range ps {
		if _, ok := order[p.File]; !ok {
			order[p.File] = len(order)
		}
	}
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(order[a.File], order[b.File]), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return slices.Compact(ps)
}
