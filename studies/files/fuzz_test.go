package files

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"trammel/kin"
)

var (
	placeForm  = regexp.MustCompile(`^[^:]+:\d+:\d+: \S`)
	quotedForm = regexp.MustCompile(`"[^"]*"|'[^']*'`)
	jargonForm = regexp.MustCompile(`strconv|yaml:|go-yaml|nil|panic|runtime|unmarshal|%!|<unknown|\bEOF\b|0x[0-9a-f]{6}`)
)

// mustBeSentences checks what a person would see of a refusal.
func mustBeSentences(t *testing.T, err error, input []byte) {
	t.Helper()
	ps, ok := err.(Problems)
	if !ok || len(ps) == 0 {
		t.Fatalf("the refusal is %T %v", err, err)
	}
	for _, p := range ps {
		s := p.String()
		words := quotedForm.ReplaceAllString(p.Message, "")
		switch jargon := jargonForm.FindString(words); {
		case !placeForm.MatchString(s) || p.Line < 1 || p.Column < 1:
			t.Errorf("no place: %q", s)
		case strings.HasSuffix(p.Message, ".") || strings.HasSuffix(p.Message, "?") || len(strings.Fields(p.Message)) < 3:
			t.Errorf("no sentence: %q", s)
		case jargon != "" && !bytes.Contains(input, []byte(jargon)):
			t.Errorf("%q is no builder's word: %q", jargon, s)
		case !utf8.ValidString(s) || strings.IndexFunc(s, unicode.IsControl) >= 0:
			t.Errorf("a sentence must be text in one line: %q", s)
		}
	}
}

// mustBeRefusal checks what a person would see of a linkage that does not compile.
func mustBeRefusal(t *testing.T, err error, input []byte) {
	t.Helper()
	words := quotedForm.ReplaceAllString(err.Error(), "")
	if jargon := jargonForm.FindString(words); jargon != "" && !bytes.Contains(input, []byte(jargon)) || len(strings.Fields(words)) < 3 {
		t.Errorf("no refusal in words: %q", err)
	}
}

func seeds(f *testing.F, studies bool) {
	for _, dir := range []string{"good", "bad"} {
		names, _ := filepath.Glob("testdata/" + dir + "/*.yaml")
		for _, name := range names {
			text, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			if len(text) < 10_000 && IsStudy(text) == studies {
				f.Add(text)
			}
		}
	}
}

// reader answers with the input for one name, and with files of testdata/good for the others.
func reader(input []byte) ReadFile {
	return func(path string) ([]byte, error) {
		if path == "good/input" {
			return input, nil
		}
		return testdata("good/" + filepath.Base(path))
	}
}

// No geometry file makes the reader panic or hang; every refusal is a sentence; what is accepted is
// accepted by the schema too, compiled or refused in words by the solver, and written and read again is the same.
func FuzzGeometry(f *testing.F) {
	seeds(f, false)
	accepts := compileSchema(f, GeometrySchema())
	f.Fuzz(func(t *testing.T, input []byte) {
		g, err := ReadGeometry(reader(input), "good/input")
		if err != nil {
			mustBeSentences(t, err, input)
			return
		}
		if root, _ := parseTree("", input); accepts.Validate(plainValue(root)) != nil {
			t.Errorf("the schema refuses what is accepted: %v", accepts.Validate(plainValue(root)))
		}
		if _, err := kin.Compile(g.Linkage()); err != nil {
			mustBeRefusal(t, err, input)
		}
		back, err := ReadGeometry(oneFile("x", string(g.Encode())), "x")
		if err != nil {
			t.Fatalf("%v\n%s", err, g.Encode())
		}
		if !reflect.DeepEqual(bare(back), bare(g)) {
			t.Errorf("got %+v\nwant %+v", bare(back), bare(g))
		}
	})
}

// No study file makes the reader panic or hang; every refusal is a sentence; what is accepted is
// accepted by the schema too, and holds what its types promise.
func FuzzStudy(f *testing.F) {
	seeds(f, true)
	accepts := compileSchema(f, StudySchema())
	f.Fuzz(func(t *testing.T, input []byte) {
		s, err := ReadStudy(reader(input), "good/input")
		if err != nil {
			mustBeSentences(t, err, input)
			return
		}
		if root, _ := parseTree("", input); accepts.Validate(plainValue(root)) != nil {
			t.Errorf("the schema refuses what is accepted: %v", accepts.Validate(plainValue(root)))
		}
		for _, v := range s.Vary {
			if v.FromN > v.DesignN || v.DesignN > v.ToN || v.FromN >= v.ToN || v.Step < 1 || v.PerUnit < 1 || len(v.Points) == 0 {
				t.Errorf("vary %+v", v)
			}
		}
		for _, w := range s.Targets {
			if w.Motion >= len(s.Motions) || w.Motion < 0 && w.Place == nil || !(w.Weight > 0) || !(w.Within.Above.At(0) > 0) || !(w.Within.Below.At(0) > 0) {
				t.Errorf("target %+v", w)
			}
		}
		for _, l := range s.Limits {
			if l.Motion >= len(s.Motions) || l.Min == nil && l.Max == nil && l.Spread == nil {
				t.Errorf("limit %+v", l)
			}
		}
	})
}

// The same for tables of points.
func FuzzTable(f *testing.F) {
	names, _ := filepath.Glob("testdata/*/*.csv")
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	geometry, err := testdata("good/front-table.yaml")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, input []byte) {
		_, err := ReadGeometry(func(path string) ([]byte, error) {
			if path == "x" {
				return geometry, nil
			}
			return input, nil
		}, "x")
		if err != nil {
			mustBeSentences(t, err, input)
		}
	})
}
