package files

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
)

// noTree are the bad files of which there is nothing to hold against a schema: they are no YAML, or use
// what YAML allows and these files do not.
var noTree = words(`g-anchor g-control g-deep g-duplicate-key g-duplicate-point g-empty-file g-indent g-merge g-no-colon
	g-not-utf8 g-only-comments g-second-document g-tab g-tag g-unclosed g-unclosed-quote g-utf16 g-very-deep`)

// beyondSchema are the bad files that a schema cannot refuse: it knows neither which names exist, nor
// other files, nor lattices, sides, places and the order of numbers, nor which unit a measure has.
var beyondSchema = words(`g-table-empty g-across-arm-no-axle g-across-name-twice g-across-no-side g-across-places g-across-both-sides g-axle-once g-kingpin-no-axle g-across-point-no-side g-axis-on-arm
	g-axle-and-upright g-ball-joint-frame g-bar-body g-carried-round g-h-arm-on-axis g-h-arm-places g-hinge g-hold g-hold-across
	g-kingpin-ends g-kingpin-upside-down g-rack-axis g-shaft g-strut g-strut-place g-two-kingpins g-vehicle-axle
	g-clearance-kinds g-clearance-never-moves g-joint-bodies g-rack-travel g-solid-places g-solid-wrong-side g-too-many-gaps s-part-names s-rack-too-far
	s-roll-curve s-roll-grid s-turn-axle s-turn-opposite
	g-ball-on-axis g-body-is-link g-capitals g-member-capitals g-table-quote g-table-tabs g-inch-off-lattice g-inch-wrong-side g-no-axis
	g-off-lattice g-on-centre-line g-one-point-wrong-side g-range g-table-header g-table-missing g-table-semicolons
	g-table-wrong g-unknown-body g-unknown-point g-wrong-side g-zero-length
	s-factorial-many s-follow-grid s-straight-few s-table-empty s-choose-no-design s-choose-place s-choose-twice s-follow-short s-from-to s-inch-travel s-inch-wheelbase s-limit-crossed
	s-measure-unit s-motion-unknown s-names-collide s-no-geometry-file s-no-motions s-outside-range s-place-outside
	s-table-columns s-table-missing s-table-wrong s-travel-order s-line-conflict s-vary-collide s-vary-line
	s-vary-point s-vary-twice s-vary-unused`)

func words(s string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(s) {
		m[w] = true
	}
	return m
}

func compileSchema(t testing.TB, text []byte) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// plainValue turns a tree into what JSON would hold, as an editor that checks YAML by a schema does.
func plainValue(n *yaml.Node) any {
	switch n.Kind {
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			m[n.Content[i].Value] = plainValue(n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		list := make([]any, len(n.Content))
		for i, c := range n.Content {
			list[i] = plainValue(c)
		}
		return list
	}
	switch n.Tag {
	case "!!null":
		return nil
	case "!!bool":
		return n.Value == "true"
	case "!!int", "!!float":
		if json.Valid([]byte(n.Value)) {
			return json.Number(n.Value)
		}
		if v, err := strconv.ParseFloat(n.Value, 64); err == nil {
			return v
		}
	}
	return n.Value
}

// The schemas, checked by a validator that knows nothing of us: they accept every good file and refuse
// every bad one that a schema can.
func TestSchemas(t *testing.T) {
	geometry, study := compileSchema(t, GeometrySchema()), compileSchema(t, StudySchema())
	schemaOf := func(root *yaml.Node) *jsonschema.Schema {
		if (field{node: root}).keyIn("study") != nil {
			return study
		}
		return geometry
	}
	good, _ := filepath.Glob("testdata/good/*.yaml")
	for _, name := range good {
		root := treeOf(t, name)
		if err := schemaOf(root).Validate(plainValue(root)); err != nil {
			t.Errorf("%s is refused: %v", name, err)
		}
	}
	for _, name := range badFiles(t) {
		base := strings.TrimSuffix(filepath.Base(name), ".yaml")
		root := treeOf(t, "testdata/"+name)
		if root == nil || noTree[base] {
			if (root == nil) != noTree[base] {
				t.Errorf("%s: noTree does not tell the truth", base)
			}
			continue
		}
		s := geometry
		if strings.HasPrefix(base, "s-") {
			s = study
		}
		if accepted := s.Validate(plainValue(root)) == nil; accepted != beyondSchema[base] {
			t.Errorf("%s: accepted by the schema: %v, and beyondSchema says %v", base, accepted, beyondSchema[base])
		}
	}
}

func treeOf(t *testing.T, path string) *yaml.Node {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	root, bad := parseTree(path, text)
	if bad != nil {
		return nil
	}
	if root.Kind == yaml.MappingNode {
		seen := map[string]bool{}
		for i := 0; i < len(root.Content); i += 2 {
			if seen[root.Content[i].Value] {
				return nil
			}
			seen[root.Content[i].Value] = true
			if v := root.Content[i+1]; root.Content[i].Value == "points" && v.Kind == yaml.MappingNode && repeats(v) {
				return nil
			}
		}
	}
	return root
}

func repeats(n *yaml.Node) bool {
	seen := map[string]bool{}
	for i := 0; i < len(n.Content); i += 2 {
		if seen[n.Content[i].Value] {
			return true
		}
		seen[n.Content[i].Value] = true
	}
	return false
}
