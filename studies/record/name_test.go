package record

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestColumnName(t *testing.T) {
	// The rule is the project's own; DESIGN names it and no source outside does.
	cases := []struct{ want, words string }{
		{"bump_steer", "bump steer"},
		{"damper_length", "damper.length"},
		{"got_camber_in_bump_deg", "got|camber in bump|deg"},
		{"vary_upper_ball_z_mm", "vary|upper_ball.z|mm"},
		{"a_b", "  a -- b  "},
		{"e_a_strasse_koln", "É Å Straße Köln"},
		{"aerofoil_oe", "Ærofoil œ"},
		{"u03bb_angle", "λ angle"},
		{"n2nd_link", "2nd link"},
		{"u002b", "+"},
		{"unnamed", ""},
		{"vary_u002b", "vary|+"},
		{"x2", "x²"},
	}
	for _, c := range cases {
		if got := ColumnName(strings.Split(c.words, "|")...); got != c.want {
			t.Errorf("%q is %q, want %q", c.words, got, c.want)
		}
	}
}

func TestColumnNameIsAlwaysOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "words")
		name := ColumnName(words...)
		if !isColumnName(name) {
			t.Fatalf("%q becomes %q", words, name)
		}
		if again := ColumnName(name); again != name {
			t.Fatalf("%q becomes %q, which becomes %q", words, name, again)
		}
	})
}

func TestCollisions(t *testing.T) {
	got := Collisions([]string{"bump steer", "camber", "bump-steer", "Bump.Steer", "camber"})
	if len(got) != 1 || got[0].String() != `the names "bump steer", "bump-steer", "Bump.Steer" would all be the column bump_steer; give them names that differ in letters or digits` {
		t.Fatalf("got %v", got)
	}
	if got := Collisions([]string{"a", "b"}); len(got) != 0 {
		t.Fatalf("got %v", got)
	}
}
