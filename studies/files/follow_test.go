package files

import (
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"go.yaml.in/yaml/v4"
)

// slip is one place of a file at which a word can be misspelt, and the lines of the entry that it stands in.
type slip struct {
	at          *yaml.Node
	first, last int
}

// slips lists the values of a geometry's sections, and the words that say what an entry is.
func slips(root *yaml.Node) (out []slip) {
	sections := []string{"members", "across", "wheel", "solids", "groups", "clearances", "joints", "steering_axis"}
	for i := 0; i+1 < len(root.Content); i += 2 {
		for _, section := range sections {
			if root.Content[i].Value != section || root.Content[i+1].Kind != yaml.MappingNode {
				continue
			}
			entries := root.Content[i+1].Content
			if section == "wheel" || section == "steering_axis" {
				entries = root.Content[i : i+2]
			}
			for k := 0; k+1 < len(entries); k += 2 {
				var inside []*yaml.Node
				first, last := entries[k].Line, entries[k].Line
				var gather func(n *yaml.Node)
				gather = func(n *yaml.Node) {
					last = max(last, n.Line)
					if n.Kind == yaml.ScalarNode {
						inside = append(inside, n)
					}
					for j, c := range n.Content {
						if n.Kind == yaml.MappingNode && j%2 == 0 && !kindWords[c.Value] {
							continue // other keys are told as unknown, with the one that was meant
						}
						gather(c)
					}
				}
				gather(entries[k+1])
				for _, n := range inside {
					out = append(out, slip{n, first, last})
				}
			}
		}
	}
	return out
}

// kindWords say what an entry is.
var kindWords = func() map[string]bool {
	out := map[string]bool{}
	for _, words := range [][]string{kindKeys, solidWords, jointWords} {
		for _, w := range words {
			out[w] = true
		}
	}
	return out
}()

// One word that is misspelt, in any place of any good geometry, is reported in the entry in which it stands and nowhere
// else: what follows from it is no mistake, and obeying a sentence about it would spoil a good line.
func TestNothingFollows(t *testing.T) {
	names, err := filepath.Glob("testdata/good/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, name := range names {
		raw, err := testdata("good/" + filepath.Base(name))
		if err != nil {
			t.Fatal(err)
		}
		if IsStudy(raw) {
			continue
		}
		root, bad := parseTree("", raw)
		if bad != nil {
			t.Fatal(bad)
		}
		lines := strings.Split(string(raw), "\n")
		for i, s := range slips(root) {
			wrong := [...]string{s.at.Value + "q", "frobnicate"}[i%2] // one that is near, or one that is like nothing
			_, err := ReadGeometry(reader([]byte(misspelt(lines, s.at, wrong))), "good/input")
			ps, _ := err.(Problems)
			if ps == nil {
				continue
			}
			tried++
			for _, p := range ps {
				if p.Line < s.first || p.Line > s.last {
					t.Errorf("%s:%d:%d: %s for %s:\n%v", filepath.Base(name), s.at.Line, s.at.Column, wrong, s.at.Value, err)
					break
				}
			}
		}
	}
	if tried < 700 {
		t.Errorf("%d misspelt words were tried, and at least 700 are wanted", tried)
	}
}

// The same of a geometry that a study names: nothing in the study follows from it.
func TestNothingFollowsInStudies(t *testing.T) {
	for study, geometry := range map[string]string{"axle-night.yaml": "rockers.yaml", "inch-night.yaml": "front-inch.yaml", "solids-night.yaml": "solids.yaml"} {
		raw, err := testdata("good/" + geometry)
		if err != nil {
			t.Fatal(err)
		}
		root, bad := parseTree("", raw)
		if bad != nil {
			t.Fatal(bad)
		}
		lines := strings.Split(string(raw), "\n")
		tried := 0
		for i, s := range slips(root) {
			wrong := [...]string{s.at.Value + "q", "frobnicate"}[i%2]
			read := func(name string) ([]byte, error) {
				if name == "good/"+geometry {
					return []byte(misspelt(lines, s.at, wrong)), nil
				}
				return testdata(name)
			}
			_, err := ReadStudy(read, "good/"+study)
			ps, _ := err.(Problems)
			tried += min(len(ps), 1)
			for _, p := range ps {
				if p.File != "good/"+geometry || p.Line < s.first || p.Line > s.last {
					t.Errorf("%s:%d:%d: %s for %s:\n%v", geometry, s.at.Line, s.at.Column, wrong, s.at.Value, err)
					break
				}
			}
		}
		if tried < 20 {
			t.Errorf("%s: %d misspelt words were tried, and at least 20 are wanted", geometry, tried)
		}
	}
}

// A table of points that is not there is one mistake, whatever names its points.
func TestNothingFollowsNoTable(t *testing.T) {
	raw, err := testdata("good/solids.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(raw)
	from, to := strings.Index(text, "points:\n"), strings.Index(text, "members:\n")
	text = text[:from] + "points: no-such.csv\n" + text[to:]
	read := func(name string) ([]byte, error) {
		if name == "good/input" {
			return []byte(text), nil
		}
		return nil, fs.ErrNotExist
	}
	_, err = ReadGeometry(read, "good/input")
	if ps, _ := err.(Problems); len(ps) != 1 || !strings.Contains(ps[0].Message, "there is no such file") {
		t.Errorf("got\n%v\nand one sentence about the table is wanted", err)
	}
}

// misspelt returns a file with one of its words exchanged.
func misspelt(lines []string, at *yaml.Node, wrong string) string {
	out := make([]string, len(lines))
	copy(out, lines)
	line := []rune(out[at.Line-1])
	from, to := at.Column-1, at.Column-1+len([]rune(at.Value))
	if to > len(line) || string(line[from:to]) != at.Value {
		panic(fmt.Sprintf("line %d has no %q at %d", at.Line, at.Value, at.Column))
	}
	out[at.Line-1] = string(line[:from]) + wrong + string(line[to:])
	return strings.Join(out, "\n")
}
