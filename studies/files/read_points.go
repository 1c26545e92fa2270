package files

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// What a geometry may hold at most; the largest known to make sense has a tenth of it.
const (
	maxPoints  = 500
	maxMembers = 200
)

// walkPoints reads the points, from the file itself or from the table that it names.
func (g *draft) walkPoints(read ReadFile, f field) {
	if f.node.Kind == yaml.ScalarNode && !isNull(f.node) {
		g.walkTable(read, f)
		return
	}
	if f.node.Kind == yaml.SequenceNode {
		g.w.bad(f, "must be a group of NAME: [x, y, z], or the name of a CSV table; a list stands here")
		return
	}
	entries, ok := g.w.filled(f)
	if !ok {
		return
	}
	for _, e := range entries {
		if bare, cut := cutOpposite(e.key.Value); cut {
			g.w.at(e.keyPos(), e.path, "%s stands under points; write %s under opposite, a key of its own beside points", quoted(e.key.Value), quoted(bare))
			continue
		}
		if !g.addPoint(g.w, e.key.Value, e.keyPos(), e.path) {
			return
		}
		n, ok := g.w.triple(e)
		g.place(e.key.Value, n, ok)
	}
}

// addPoint checks a name and reserves its place. It answers false when there are too many points.
func (g *draft) addPoint(w *walk, name string, pos Position, path string) bool {
	if len(g.Points) == maxPoints {
		w.at(pos, path, "there are more than %d points; leave out those that no member uses", maxPoints)
		return false
	}
	bare, _ := cutOpposite(name)
	if side, point := meantSide(bare); side != NoSide && bare != name {
		w.at(pos, path, "%s names its point by a side; opposite is the other side by itself, so write %s", quoted(name), quoted(oppositePrefix+point))
	} else if complaint := nameComplaint(bare); complaint != "" {
		w.at(pos, path, "%s %s", quoted(name), complaint)
	}
	for _, p := range g.Points {
		if p.Name != name && strings.EqualFold(p.Name, name) {
			w.at(pos, path, "%s and %s differ only in capitals; rename one", p.Name, name)
			break
		}
	}
	g.index[name] = len(g.Points)
	g.Points = append(g.Points, Point{Name: name, Pos: pos, InTable: w.file != g.w.file})
	return true
}

func (g *draft) place(name string, n [3]int64, ok bool) {
	g.Points[g.index[name]].N = n
	g.bad[name] = !ok
}

// walkTable reads a CSV table of name,x,y,z.
func (g *draft) walkTable(read ReadFile, f field) {
	path := beside(g.Path, f.node.Value)
	text, complaint := fetch(read, path)
	if complaint != "" {
		g.w.bad(f, "is %s: %s", quoted(f.node.Value), complaint)
		return
	}
	g.TablePath, g.Table = path, text
	w := *g.w
	w.file = path
	rows, ok := w.table(text)
	if !ok {
		return
	}
	header := []string{"name", "x", "y", "z"}
	if len(rows) == 0 || !slices.EqualFunc(rows[0].texts(), header, strings.EqualFold) {
		at := Position{1, 1}
		if len(rows) > 0 {
			at = rows[0][0].pos
		}
		w.at(at, "points", "the first line of a table of points must be name,x,y,z")
		return
	}
	if len(rows) == 1 {
		w.at(Position{1, 1}, "points", "the table has no point; write one in each line below the first, such as lower_ball,~8,~701,~191")
	}
	for _, row := range rows[1:] {
		if !g.addRow(&w, row) {
			return
		}
	}
}

func (g *draft) addRow(w *walk, row tableRow) bool {
	name := row[0].text
	path := pointPath(clip(name))
	if i, there := g.index[name]; there {
		w.at(row[0].pos, path, "%s stands here a second time; the first is in line %d, so take one out or rename it", labelOf(name), g.Points[i].Pos.Line)
		return true
	}
	if !g.addPoint(w, name, row[0].pos, path) {
		return false
	}
	label := labelOf(name)
	if len(row) != 4 {
		g.bad[name] = true
		w.at(row[0].pos, path, "%s %s", label, wrongCount(row[1:].texts(), "name,x,y,z"))
		return true
	}
	var n [3]int64
	ok := true
	for i, c := range row[1:] {
		f := c.field(path, label+": "+string(rune('x'+i)))
		q, good := w.length(f)
		n[i], ok = q, ok && good
	}
	g.place(name, n, ok)
	return true
}

// cell is one value of a table and where it stands.
type cell struct {
	text string
	pos  Position
}

// field lets a cell be read like a value of a YAML file.
func (c cell) field(path, label string) field {
	n := &yaml.Node{Kind: yaml.ScalarNode, Value: c.text, Line: c.pos.Line, Column: c.pos.Column}
	return field{node: n, path: path, label: label}
}

type tableRow []cell

func (r tableRow) texts() []string {
	texts := make([]string, len(r))
	for i := range r {
		texts[i] = r[i].text
	}
	return texts
}

// table parts a comma-separated table into cells (RFC 4180; lines that begin with # are remarks).
func (w *walk) table(text []byte) (rows []tableRow, ok bool) {
	text = bytes.TrimPrefix(text, byteOrderMark)
	if bad := checkText(w.file, text); bad != nil {
		*w.problems = append(*w.problems, bad...)
		return nil, false
	}
	if separator := otherSeparator(text); separator != "" {
		w.at(Position{1, 1}, "", "the table is separated by %s; save it with commas between the columns and points in the decimals", separator)
		return nil, false
	}
	// some spreadsheets end lines with a carriage return alone
	text = bytes.ReplaceAll(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n"))
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord, r.Comment, r.TrimLeadingSpace = -1, '#', true
	for {
		record, err := r.Read()
		if err == io.EOF {
			return rows, true
		}
		if err != nil {
			pos := Position{1, 1}
			var parse *csv.ParseError
			if errors.As(err, &parse) {
				pos = Position{max(parse.Line, 1), max(parse.Column, 1)}
			}
			w.at(pos, "", "a quotation mark stands alone here; take it out")
			return nil, false
		}
		row := make(tableRow, len(record))
		for i := range record {
			line, column := r.FieldPos(i)
			row[i] = cell{text: strings.TrimSpace(record[i]), pos: Position{line, column}}
		}
		for len(row) > 4 && row[len(row)-1].text == "" {
			row = row[:len(row)-1] // spreadsheets leave empty columns behind
		}
		rows = append(rows, row)
	}
}

// otherSeparator names what stands between the columns when it is no comma.
func otherSeparator(text []byte) string {
	for line := range bytes.Lines(text) {
		if line[0] == '#' || len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		switch {
		case bytes.ContainsRune(line, ','):
		case bytes.ContainsRune(line, ';'):
			return "semicolons"
		case bytes.ContainsRune(bytes.TrimSpace(line), '\t'):
			return "tabs"
		}
		return ""
	}
	return ""
}
