package files

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// schema is a piece of a JSON Schema.
type schema = map[string]any

// key is one line of a table of keys: what the walk accepts, what the schema says, and what help can print.
type key struct {
	name  string
	about string // one line
	need  bool
	shape schema // of the value; nil for a key that no file may have
	later string // not built yet, and this is what can be done instead
	moved string // it stands elsewhere, and this is where
}

// taken tells whether a file may have the key.
func (k *key) taken() bool { return k.later == "" && k.moved == "" }

// keys is the table of a mapping.
type keys struct {
	of    string // how a sentence calls the mapping: "a geometry file"
	list  []key
	under map[string]keys // tables one level down, to tell where a misplaced key belongs
	rules []schema        // which keys go together, for the schema
}

// names returns the keys that are built.
func (t keys) names() []string {
	var names []string
	for i := range t.list {
		if t.list[i].taken() {
			names = append(names, t.list[i].name)
		}
	}
	return names
}

func (t keys) find(name string) *key {
	for i := range t.list {
		if t.list[i].name == name {
			return &t.list[i]
		}
	}
	return nil
}

// field is a value in the tree and how it came there.
type field struct {
	key   *yaml.Node // nil for list entries
	node  *yaml.Node
	path  string // members.tie_rod.ends
	label string // how a sentence calls it: tie_rod: ends

	// meant holds the keys of a mapping that were misspelt, by what was meant, so that no second
	// sentence says that they are missing. Copies of a field share it.
	meant map[string]*yaml.Node
}

func rootField(n *yaml.Node) field { return field{node: n, meant: map[string]*yaml.Node{}} }

// pos is where a sentence about the field points: at the value where there is one to see.
func (f field) pos() Position {
	n := f.node
	if f.key != nil && (n.Line == 0 || isNull(n)) {
		n = f.key
	}
	return Position{max(n.Line, 1), max(n.Column, 1)}
}

func (f field) keyPos() Position {
	if f.key == nil {
		return f.pos()
	}
	return Position{max(f.key.Line, 1), max(f.key.Column, 1)}
}

func (f field) child(k, n *yaml.Node) field {
	c := field{key: k, node: n, path: clip(k.Value), label: labelOf(k.Value), meant: map[string]*yaml.Node{}}
	if f.path != "" {
		c.path = f.path + "." + c.path
	}
	if f.label != "" {
		c.label = f.label + ": " + c.label
	}
	return c
}

// labelOf is how a sentence calls what the user named: as it is, or in quotation marks where it would be
// lost in the sentence.
func labelOf(s string) string {
	if s = clip(s); s == "" || strings.TrimSpace(s) != s {
		return quoted(s)
	}
	return s
}

// named is an entry of a section of named things; the section's name is left out of sentences.
func (f field) named(k, n *yaml.Node) field {
	c := f.child(k, n)
	c.label = labelOf(k.Value)
	return c
}

func (f field) item(i int) field {
	label := fmt.Sprintf("number %d of %s", i+1, f.label)
	return field{node: f.node.Content[i], path: fmt.Sprintf("%s[%d]", f.path, i), label: label, meant: map[string]*yaml.Node{}}
}

func isNull(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) == 0 &&
		(n.Value == "" || n.Tag == "!!null")
}

func isQuoted(n *yaml.Node) bool {
	return n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) != 0
}

// walk gathers problems on its way through one file. Every reader method reports what is wrong itself
// and answers ok only for a value that can be used.
type walk struct {
	file     string
	units    Unit
	problems *Problems
	notes    *Problems
}

func (w *walk) at(pos Position, path, format string, args ...any) {
	if n := len(*w.problems); n > maxProblems {
		return
	} else if n == maxProblems {
		format, args = "there are more than %d mistakes; mend these first, for the rest was not looked at", []any{maxProblems}
	}
	*w.problems = append(*w.problems, Problem{File: w.file, Position: pos, Path: path, Message: oneLine(fmt.Sprintf(w.units.Example(format), args...))})
}

// bad reports a problem with the value of a field; the sentence begins with the field's label. Example lengths in its format, and in
// that of at and note, are written as Unit.Example takes them.
func (w *walk) bad(f field, format string, args ...any) {
	w.at(f.pos(), f.path, "%s %s", f.label, fmt.Sprintf(w.units.Example(format), args...))
}

// note makes a remark that stops nothing.
func (w *walk) note(pos Position, path, format string, args ...any) {
	*w.notes = append(*w.notes, Problem{File: w.file, Position: pos, Path: path, Message: oneLine(fmt.Sprintf(w.units.Example(format), args...))})
}

// Beyond these a file is not what its reader thinks it is, and finding the right word for each mistake
// would take its time.
const (
	maxEntries  = 1000 // of one group of keys
	maxProblems = 300
)

// tooMuch stops the walk where a group is too large, or where there are more mistakes than anyone reads.
func (w *walk) tooMuch(f field, entries, most int) bool {
	switch {
	case len(*w.problems) > maxProblems:
		return true
	case entries > most:
		w.bad(f, "has %d entries; %d is the most", entries, most)
		return true
	}
	return false
}

// entries returns the entries of a mapping whose keys are the user's own words, without repetitions.
func (w *walk) entries(f field) ([]field, bool) {
	if isNull(f.node) {
		w.bad(f, "has nothing in it; take the key out or fill it")
		return nil, false
	}
	if f.node.Kind != yaml.MappingNode {
		w.bad(f, "must be a group of keys, each with a colon, a space and its value%s", found(f.node))
		return nil, false
	}
	if w.tooMuch(f, len(f.node.Content)/2, maxEntries) {
		return nil, false
	}
	w.decimalCommas(f)
	var out []field
	seen := make(map[string]*yaml.Node, len(f.node.Content)/2)
	for i := 0; i+1 < len(f.node.Content); i += 2 {
		k, v := f.node.Content[i], f.node.Content[i+1]
		c := f.named(k, v)
		switch first := seen[k.Value]; {
		case k.Kind != yaml.ScalarNode:
			w.at(Position{k.Line, k.Column}, f.path, "a key of %s must be one word, not a list or a group", orElse(f.label, "this file"))
		case isNull(k):
			w.at(Position{max(k.Line, 1), max(k.Column, 1)}, f.path, "a key of %s is missing before this colon", orElse(f.label, "this file"))
		case first != nil:
			w.at(c.keyPos(), c.path, "%s stands here a second time; the first is in line %d, so take one out or rename it", c.label, first.Line)
		default:
			seen[k.Value] = k
			out = append(out, c)
		}
	}
	return out, true
}

// filled returns the entries of a section that must not be empty.
func (w *walk) filled(f field) ([]field, bool) {
	entries, ok := w.entries(f)
	if ok && len(f.node.Content) == 0 {
		w.bad(f, "has nothing in it; take the key out or fill it")
		return nil, false
	}
	return entries, ok
}

// found ends a sentence about a wrong kind of value.
func found(n *yaml.Node) string {
	switch {
	case isNull(n):
		return "; nothing stands here"
	case n.Kind == yaml.SequenceNode:
		return "; a list stands here"
	case n.Kind == yaml.MappingNode:
		return "; a group of keys stands here"
	}
	return "; " + quoted(n.Value) + " stands here"
}

// mapping checks a mapping against a table: unknown, planned, repeated and missing keys are reported,
// and what is left is returned by name.
func (w *walk) mapping(f field, t keys) (map[string]field, bool) {
	entries, ok := w.entries(f)
	if !ok {
		return nil, false
	}
	out := map[string]field{}
	for _, c := range entries {
		name := c.key.Value
		c.label = f.child(c.key, c.node).label
		switch k := t.find(name); {
		case k == nil:
			w.unknownKey(f, c, t)
		case k.later != "":
			w.at(c.keyPos(), c.path, "%s is not built yet; %s", c.label, k.later)
		case k.moved != "":
			w.at(c.keyPos(), c.path, "%s has no place here; %s", c.label, w.units.Example(k.moved))
		default:
			out[name] = c
		}
	}
	for _, k := range t.list {
		if _, given := out[k.name]; k.need && !given {
			w.lacks(f, t, k.name)
		}
	}
	return out, true
}

// lacks says that a mapping needs a key, unless one is there whose value could not be read.
func (w *walk) lacks(f field, t keys, name string) {
	if f.keyIn(name) == nil {
		w.at(f.keyPos(), f.path, "%s needs %s: %s", orElse(f.label, t.of), name, w.units.Example(t.find(name).about))
	}
}

// keyIn returns the node of a key in a mapping, whatever its value, or of the word that was meant to be
// that key; or nil.
func (f field) keyIn(name string) *yaml.Node {
	if f.node.Kind != yaml.MappingNode {
		return nil
	}
	for i := 0; i+1 < len(f.node.Content); i += 2 {
		if f.node.Content[i].Value == name {
			return f.node.Content[i]
		}
	}
	return f.meant[name]
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

func (w *walk) unknownKey(parent, c field, t keys) {
	name := c.key.Value
	if before, after, ok := strings.Cut(name, ":"); ok && t.find(strings.TrimSpace(before)) != nil && isNull(c.node) {
		w.at(c.keyPos(), c.path, "%s lacks the space after its colon; write %s: %s", quoted(name), before, clip(after))
		return
	}
	var free []string
	for _, k := range t.names() {
		if parent.keyIn(k) == nil {
			free = append(free, k)
		}
	}
	what := orElse(parent.label, t.of)
	if word := near(name, free); word != "" {
		parent.meant[word] = c.key
		w.at(c.keyPos(), c.path, "%s does not know %s; write %s%s", what, quoted(name), word, difference(name))
		return
	}
	for _, section := range sortedKeys(t.under) {
		if t.under[section].find(name) != nil {
			w.at(c.keyPos(), c.path, "%s does not know %s; it belongs under %s", what, quoted(name), section)
			return
		}
	}
	if word := near(name, t.names()); word != "" {
		w.at(c.keyPos(), c.path, "%s does not know %s; %s is there already, so take this out", what, quoted(name), word)
		return
	}
	w.at(c.keyPos(), c.path, "%s does not know %s; its %s %s", what, quoted(name), pick(len(t.names()) == 1, "only key is", "keys are"), list(t.names(), "and"))
}

// scalar returns the text of a value that is neither list nor group nor nothing.
func (w *walk) scalar(f field, want string) (string, bool) {
	switch {
	case isNull(f.node):
		w.bad(f, "has no value; write %s", w.units.Example(want))
	case f.node.Kind != yaml.ScalarNode:
		w.bad(f, "must be %s%s", w.units.Example(want), found(f.node))
	default:
		return f.node.Value, true
	}
	return "", false
}

// number returns a number and the unit behind it. Text in quotes is no number.
func (w *walk) number(f field, want string) (number, bool) {
	text, ok := w.scalar(f, want)
	if !ok {
		return number{}, false
	}
	n, complaint := parseNumber(text)
	switch {
	case complaint != "":
		w.bad(f, "is %s: %s", quoted(text), complaint)
		return n, false
	case isQuoted(f.node):
		w.bad(f, "is text in quotation marks; write %s without them", clip(strings.TrimSpace(text)))
		return n, false
	}
	return n, true
}

// length returns a length in quanta of the file's unit.
func (w *walk) length(f field) (int64, bool) {
	n, ok := w.number(f, "a length")
	if !ok {
		return 0, false
	}
	q, remark, complaint := n.quanta(w.units)
	if complaint != "" {
		w.bad(f, "is %s: %s", quoted(f.node.Value), complaint)
		return 0, false
	}
	if remark != "" {
		w.note(f.pos(), f.path, "%s: %s %s", f.label, clip(f.node.Value), remark)
	}
	return q, true
}

// positive is a length greater than nothing, or at least nothing.
func (w *walk) positive(f field, zero bool) (int64, bool) {
	q, ok := w.length(f)
	switch {
	case !ok:
		return 0, false
	case q < 0 && zero:
		w.bad(f, "is %s; it counts as a distance, so write %s", clip(f.node.Value), w.units.Format(-q))
		return 0, false
	case q <= 0 && !zero:
		w.bad(f, "is %s; it must be more than 0", clip(f.node.Value))
		return 0, false
	}
	return q, true
}

// degrees returns an angle as a fraction of degrees.
func (w *walk) degrees(f field) (*big.Rat, bool) {
	n, ok := w.number(f, "an angle in degrees")
	if !ok {
		return nil, false
	}
	if n.unit != "" && n.unit != "deg" {
		w.bad(f, "is %s: angles are in degrees; write deg, or nothing", quoted(f.node.Value))
		return nil, false
	}
	return n.value, true
}

// whole returns a whole number from least to most.
func (w *walk) whole(f field, least, most int64) (int64, bool) {
	n, ok := w.number(f, "a whole number")
	if !ok {
		return 0, false
	}
	lo, hi := big.NewRat(least, 1), big.NewRat(most, 1)
	if n.unit != "" || !n.value.IsInt() || n.value.Cmp(lo) < 0 || n.value.Cmp(hi) > 0 {
		w.bad(f, "is %s; it must be a whole number from %d to %d", clip(f.node.Value), least, most)
		return 0, false
	}
	return n.value.Num().Int64(), true
}

// word returns one of the allowed words.
func (w *walk) word(f field, allowed []string, later map[string]string) (string, bool) {
	text, ok := w.scalar(f, list(allowed, "or"))
	if !ok {
		return "", false
	}
	if slices.Contains(allowed, text) {
		return text, true
	}
	if do, planned := later[text]; planned {
		w.bad(f, "is %s, which is not built yet; %s", text, do)
		return "", false
	}
	w.bad(f, "is %s; %s", quoted(text), instead(text, allowed))
	return "", false
}

// isTrue accepts nothing but true: a shape is asked for or left out.
func (w *walk) isTrue(f field) bool {
	if text, ok := w.scalar(f, "true"); !ok {
		return false
	} else if text != "true" || isQuoted(f.node) {
		w.bad(f, "is %s; write true, or take the line out", quoted(text))
		return false
	}
	return true
}

// items returns the entries of a list.
func (w *walk) items(f field, want string) ([]field, bool) {
	if f.node.Kind != yaml.SequenceNode {
		if isNull(f.node) {
			w.bad(f, "has no value; write %s", w.units.Example(want))
		} else {
			w.bad(f, "must be a list, %s%s", w.units.Example(want), found(f.node))
		}
		return nil, false
	}
	if w.tooMuch(f, len(f.node.Content), maxPositions) {
		return nil, false
	}
	out := make([]field, len(f.node.Content))
	for i := range out {
		out[i] = f.item(i)
	}
	return out, true
}

// triple returns three lengths: a point.
func (w *walk) triple(f field) (n [3]int64, ok bool) {
	const want = "three lengths such as [~12.5, ~300, ~-40]"
	if f.node.Kind == yaml.ScalarNode && !isNull(f.node) {
		if inner := strings.FieldsFunc(f.node.Value, func(r rune) bool { return r == ',' || r == ' ' || r == ';' || r == '\t' }); len(inner) == 3 {
			w.bad(f, "must be a list in square brackets; write [%s]", clip(strings.Join(inner, ", ")))
			return n, false
		}
	}
	items, isList := w.items(f, want)
	if !isList {
		return n, false
	}
	if len(items) != 3 {
		texts := make([]string, len(items))
		for i := range items {
			texts[i] = items[i].node.Value
		}
		w.bad(f, "%s", wrongCount(texts, w.units.Example(want)))
		return n, false
	}
	ok = true
	for i, it := range items {
		it.label = f.label + ": " + string(rune('x'+i))
		q, good := w.length(it)
		n[i], ok = q, ok && good
	}
	return n, ok
}
