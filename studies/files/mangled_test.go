package files

import (
	"reflect"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"trammel/kin"
)

var tokenForm = regexp.MustCompile(`[A-Za-z_][A-Za-z0-9_.]*|-?[0-9][0-9.]*|[][{},:]`)

// crumbs are what is put in place of a token, besides tokens of the file itself.
var crumbs = []string{"", "null", "true", "[]", "{}", "[1, 2]", "{x: 1}", `""`, "0", "-1", "1e9", "0.00001", "1/3in", "25mm", ".nan", "centre", "center",
	"in", "place", "value", "hold", "follow", "min", "choose", "turn", "move", "along", "ends", "damper", "axle", "upright", "frame", "left.rocker", "right.upright", "opposite", "across", "on", "torsion_bar", "arm", "soft", "axis", "62 %", "[axle, frame]", "body_roll", "wheels", "tube", "box", "ball", "once", "diameter", "links", "ground", "rim", "left.damper", "[lower_arm, rail]", "spherical", "rod_end", "auto", "tilt", "min: 0", "solid", "stop", "camber - toe", "*a", "&a", "!!x", "#", "\n"}

// Good files with a few tokens exchanged, doubled or dropped: nothing panics, every refusal is a
// sentence, and what is accepted the schema accepts. Blind fuzzing seldom gets as far as the checks
// that these reach.
func TestMangled(t *testing.T) {
	geometrySchema, studySchema := compileSchema(t, GeometrySchema()), compileSchema(t, StudySchema())
	names := []string{"good/front.yaml", "good/front-inch.yaml", "good/front-table.yaml", "good/first-night.yaml", "good/inch-night.yaml", "good/small.yaml",
		"good/rockers.yaml", "good/rockers-table.yaml", "good/beam.yaml", "good/torque-tube.yaml", "good/steered-beam-inch.yaml", "good/strut.yaml",
		"good/trailing.yaml", "good/long-arm.yaml", "good/h-arm.yaml", "good/centre-crank.yaml", "good/axle-night.yaml",
		"good/solids.yaml", "good/solids-inch.yaml"}
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.SampledFrom(names).Draw(rt, "file")
		raw, err := testdata(name)
		if err != nil {
			rt.Fatal(err)
		}
		text := string(raw)
		for range rapid.IntRange(1, 3).Draw(rt, "changes") {
			places := tokenForm.FindAllStringIndex(text, -1)
			at := rapid.SampledFrom(places).Draw(rt, "place")
			other := rapid.SampledFrom(places).Draw(rt, "other")
			with := rapid.SampledFrom(append([]string{text[other[0]:other[1]], text[at[0]:at[1]] + ", " + text[at[0]:at[1]]}, crumbs...)).Draw(rt, "with")
			text = text[:at[0]] + with + text[at[1]:]
		}
		input := []byte(text)
		accepts, read := geometrySchema, func() error {
			g, err := ReadGeometry(reader(input), "good/input")
			if err == nil {
				if _, err := kin.Compile(g.Linkage()); err != nil {
					mustBeRefusal(t, err, input)
				}
				if back, err := ReadGeometry(oneFile("x", string(g.Encode())), "x"); err != nil || !reflect.DeepEqual(bare(back), bare(g)) {
					rt.Errorf("written and read again it is another geometry (%v):\n%s", err, g.Encode())
				}
			}
			return err
		}
		if strings.Contains(name, "night") || strings.Contains(name, "small") {
			accepts, read = studySchema, func() error { _, err := ReadStudy(reader(input), "good/input"); return err }
		}
		if err := read(); err != nil {
			mustBeSentences(t, err, input)
		} else if root, _ := parseTree("", input); accepts.Validate(plainValue(root)) != nil {
			rt.Errorf("the schema refuses what is accepted: %v", accepts.Validate(plainValue(root)))
		}
		if t.Failed() {
			rt.Fatalf("with\n%s", text)
		}
	})
}
