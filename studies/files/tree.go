package files

import (
	"bytes"
	"errors"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
)

// What a file may be at most: far more than any geometry or study needs, and little enough that a
// wrong file is refused at once.
const (
	maxBytes   = 1 << 20
	maxNesting = 32
)

var byteOrderMark = []byte("\ufeff")

// parseTree turns the text of a file into the node of its one document. Whatever YAML allows and these
// files do not (several documents, anchors, aliases, tags, merge keys, deep nesting) is refused here;
// a syntax error is reported alone, because what follows it cannot be read.
func parseTree(file string, text []byte) (*yaml.Node, Problems) {
	text = bytes.TrimPrefix(text, byteOrderMark)
	if bad := checkText(file, text); bad != nil {
		return nil, bad
	}
	loader, err := yaml.NewLoader(bytes.NewReader(text))
	if err != nil {
		return nil, syntaxProblem(file, err)
	}
	var document, second yaml.Node
	if err := loader.Load(&document); err == io.EOF || err == nil && len(document.Content) == 0 {
		return nil, Problems{{File: file, Position: Position{1, 1}, Message: "the file is empty; `trammel init` writes one to start from"}}
	} else if err != nil {
		return nil, syntaxProblem(file, err)
	}
	if err := loader.Load(&second); err == nil {
		return nil, Problems{{File: file, Position: Position{max(second.Line, 1), 1}, Message: "a second document begins here; a file holds one, so take out the line of three dashes or split the file"}}
	} else if err != io.EOF {
		return nil, syntaxProblem(file, err)
	}
	root := document.Content[0]
	var bad Problems
	refuseExtras(file, root, 1, &bad)
	if bad != nil {
		return nil, bad
	}
	return root, nil
}

// checkText refuses what is no text file of ours, before any parsing.
func checkText(file string, text []byte) Problems {
	at := func(offset int, message string) Problems {
		before := text[:offset]
		line := 1 + bytes.Count(before, []byte("\n"))
		column := 1 + utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:])
		return Problems{{File: file, Position: Position{line, column}, Message: message}}
	}
	if len(text) > maxBytes {
		return at(0, "the file is larger than 1 MiB; a geometry or study file is a few pages of text, and large tables go into a CSV file of their own")
	}
	if bytes.HasPrefix(text, []byte{0xff, 0xfe}) || bytes.HasPrefix(text, []byte{0xfe, 0xff}) {
		return at(0, "the file is saved as UTF-16; save it as UTF-8")
	}
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size == 1 {
			return at(i, "this character is not UTF-8; save the file as UTF-8")
		}
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0x7f {
			return at(i, "a control character stands here; this is not a plain text file, or something slipped in while copying")
		}
		i += size
	}
	return nil
}

// refuseExtras reports every use of YAML's features that these files do without.
func refuseExtras(file string, n *yaml.Node, depth int, bad *Problems) {
	say := func(message string) {
		*bad = append(*bad, Problem{File: file, Position: Position{n.Line, n.Column}, Message: message})
	}
	switch {
	case depth > maxNesting:
		say("brackets and indents are nested deeper than 32; a geometry or study file needs 6")
		return
	case n.Kind == yaml.AliasNode:
		say("an alias (*" + clip(n.Value) + ") stands here; write the value itself")
		return
	case n.Anchor != "":
		say("an anchor (&" + clip(n.Anchor) + ") stands here; take it out and write the value wherever it is needed")
	case n.Style&yaml.TaggedStyle != 0:
		say("a tag (" + clip(n.Tag) + ") stands here; take it out, the kind of a value follows from its place")
	case n.Tag == "!!merge":
		say("a merge key (<<) stands here; write the keys themselves")
		return
	}
	for _, c := range n.Content {
		refuseExtras(file, c, depth+1, bad)
	}
}

// syntaxWords turns what the YAML library says into what a builder can do. The first that is contained
// in the library's message serves.
var syntaxWords = []struct{ contains, say string }{
	{"did not find expected ',' or ']'", "the list that begins here is not closed; a comma or the bracket ] is missing, or a } stands in its place"},
	{"did not find expected ',' or '}'", "the braces that open here are not closed; a comma or the brace } is missing, or a ] stands in its place"},
	{"did not find expected node content", "a value is missing here; look for a bracket, a comma or a colon too many"},
	{"found character that cannot start any token", "a value cannot begin with this character; indent with spaces instead of tabs, and put text that begins with @, ` or % in quotes"},
	{"found a tab character", "a tab stands where only spaces may; indent with spaces"},
	{"mapping values are not allowed", "a colon has no place here; the line may be indented too far, or the line before lacks its colon"},
	{"did not find expected key", "this line does not fit the ones before; give the keys of one group the same indent"},
	{"did not find expected '-' indicator", "this line does not fit the list before; begin each entry with a dash at the same indent"},
	{"could not find expected ':'", "a key without its colon; write key: value, with a space after the colon"},
	{"unexpected end of stream", "a quotation mark that opens here is never closed"},
	{"unexpected document indicator", "a quotation mark that opens here is never closed"},
	{"unknown escape character", "a backslash in double quotes begins a special character; use single quotes, or forward slashes in paths"},
	{"unknown anchor", "an alias stands here, and nothing that it could stand for; write the value itself"},
	{"exceeded max depth", "brackets and indents are nested deeper than 32; a geometry or study file needs 6"},
	{"block sequence entries are not allowed", "a list entry with a dash has no place here; put it on a line of its own"},
	{"document start", "the file goes on after its end; one value, list or group of keys makes a file"},
	{"directive", "a line that begins with % has no meaning here; take it out"},
}

// syntaxProblem places a syntax error: at the construct that is not closed where one is known, else
// where reading stopped.
func syntaxProblem(file string, err error) Problems {
	p := Problem{File: file, Position: Position{1, 1}, Message: "the YAML cannot be read from here on; look for a missing space after a colon, an indent that differs, or an open bracket"}
	var load *yaml.LoadError
	if errors.As(err, &load) {
		mark := load.Mark
		if load.ContextMark.Line > 0 && (strings.Contains(load.Message, "',' or") || strings.Contains(load.Message, "unexpected") || strings.Contains(load.Message, "expected ':'")) {
			mark = load.ContextMark
		}
		p.Position = Position{max(mark.Line, 1), max(mark.Column, 1)}
		for _, s := range syntaxWords {
			if strings.Contains(load.Message, s.contains) {
				p.Message = s.say
				break
			}
		}
	}
	return Problems{p}
}

// clip shortens what a user wrote so that it fits into a sentence.
func clip(s string) string {
	const most = 40
	s = strings.ToValidUTF8(s, "?")
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most]) + "..."
	}
	return oneLine(s)
}

// oneLine puts a space in place of whatever would break a line or hide in it.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, s)
}

// quoted is clip in quotation marks.
func quoted(s string) string {
	if s = clip(s); strings.Contains(s, `"`) {
		return "'" + s + "'"
	}
	return `"` + s + `"`
}

// count is a number of things in words: 1 value, 2 values.
func count(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return strconv.Itoa(n) + " " + thing
}
