package optimize

import (
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// dims draws a dimension that Check accepts.
func dims(t *rapid.T) Dim {
	d := Dim{Name: "x", PerUnit: rapid.SampledFrom([]int64{1, 1000, 10_000, 1_000_000}).Draw(t, "per unit")}
	d.Low = rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, "low")
	d.High = d.Low + rapid.OneOf(rapid.Int64Range(0, 5), rapid.Int64Range(0, 1_000_000)).Draw(t, "width")
	d.Design = rapid.Int64Range(d.Low-100, d.High+100).Draw(t, "design")
	if rapid.Bool().Draw(t, "stepped") {
		d.Step = rapid.Int64Range(1, 1+(d.High-d.Low)/2).Draw(t, "step")
		if _, n := d.first(); n < 1 {
			d.Design = d.Low
		}
	}
	return d
}

// A value is the double nearest to the decimal that a person writes, and comes back as the same number
// of quanta.
func TestValueIsTheDecimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-5_000_000_000, 5_000_000_000).Draw(t, "n")
		places := rapid.IntRange(0, 6).Draw(t, "places")
		per := int64(math.Round(math.Pow10(places)))
		s := &Space{Dims: []Dim{{Name: "x", Low: -1 << 40, High: 1 << 40, PerUnit: per}}}
		text := new(big.Rat).SetFrac64(n, per).FloatString(places)
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Value(0, n); got != want {
			t.Fatalf("%d quanta are %v, written %s", n, got, text)
		}
		if back := s.Quanta(0, want); back != n {
			t.Fatalf("%s is %d quanta, not %d", text, back, n)
		}
		dst := []float64{want}
		if s.Snap(dst, dst); dst[0] != want {
			t.Fatalf("%v is moved to %v", want, dst[0])
		}
	})
}

// Snap gives an allowed value, no other allowed value is nearer (by exact arithmetic), and snapping again
// changes nothing.
func TestSnapIsNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dims(t)
		s := &Space{Dims: []Dim{d}}
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		x := rapid.OneOf(
			rapid.Float64Range(d.value(d.Low)-3, d.value(d.High)+3),
			rapid.Map(rapid.Int64Range(2*d.Low-9, 2*d.High+9), func(n int64) float64 { return float64(n) / float64(2*d.PerUnit) }),
			rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.Inf(1), math.Inf(-1), 1e300, -1e300}),
		).Draw(t, "x")
		got := make([]float64, 1)
		s.Snap(got, []float64{x})
		if err := s.Allows(&Point{X: got}); err != nil {
			t.Fatalf("%v goes to %v: %v", x, got[0], err)
		}
		n := s.Quanta(0, got[0])
		if n < d.Low || n > d.High || d.Step > 0 && (n-d.Design)%d.Step != 0 || d.value(n) != got[0] {
			t.Fatalf("%v goes to %d quanta, which is not allowed in %+v", x, n, d)
		}
		if !math.IsInf(x, 0) {
			exact := new(big.Rat).SetFloat64(x)
			away := func(n int64) *big.Rat {
				r := new(big.Rat).Sub(new(big.Rat).SetFrac64(n, d.PerUnit), exact)
				return r.Abs(r)
			}
			// A tie, to the rounding of the numbers that it is taken between, may go either way.
			slack := new(big.Rat).SetFloat64((math.Abs(x) + d.value(d.step())) * 0x1p-50)
			for _, other := range []int64{n - d.step(), n + d.step()} {
				if other >= d.Low && other <= d.High && away(n).Cmp(new(big.Rat).Add(away(other), slack)) > 0 {
					t.Fatalf("%v goes to %d quanta, but %d is nearer", x, n, other)
				}
			}
		}
		again := make([]float64, 1)
		if s.Snap(again, got); again[0] != got[0] {
			t.Fatalf("%v snaps to %v", got[0], again[0])
		}
		if k := s.LevelOf(0, got[0]); s.Level(0, k) != n || k < 0 || k >= s.Levels(0) {
			t.Fatalf("%v is level %d of %d, which is %d quanta", got[0], k, s.Levels(0), s.Level(0, k))
		}
	})
}

// Ties go away from design with steps, away from zero without, on both sides of zero.
func TestSnapTies(t *testing.T) {
	for _, c := range []struct {
		d        Dim
		x, wants float64
	}{
		{Dim{Name: "x", Low: -9, High: 9, PerUnit: 1}, 2.5, 3},
		{Dim{Name: "x", Low: -9, High: 9, PerUnit: 1}, -2.5, -3},
		{Dim{Name: "x", Low: -9, High: 9, Design: -1, Step: 4, PerUnit: 1}, -3, -5},
		{Dim{Name: "x", Low: -9, High: 9, Design: -1, Step: 4, PerUnit: 1}, 1, 3},
		{Dim{Name: "x", Low: -9, High: 9, Design: -1, Step: 4, PerUnit: 1}, 9, 7},
		{Dim{Name: "x", Low: -9, High: 9, Design: 100, Step: 7, PerUnit: 1}, -9, -5},
	} {
		got := make([]float64, 1)
		if (&Space{Dims: []Dim{c.d}}).Snap(got, []float64{c.x}); got[0] != c.wants {
			t.Errorf("%+v: %v goes to %v, not %v", c.d, c.x, got[0], c.wants)
		}
	}
}

// Every level and every option gets an equal share of [0, 1): of m·levels equidistant numbers, m.
func TestFromUnitSharesEqually(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dims(t)
		s := &Space{Dims: []Dim{d}, Choices: []Choice{{Name: "c", Options: make([]string, rapid.IntRange(1, 9).Draw(t, "options"))}}}
		levels, options := min(s.Levels(0), 50), int64(len(s.Choices[0].Options))
		s.Dims[0].High = s.Level(0, levels-1)
		const m = 3
		n := m * levels * options
		byLevel, byOption := make([]int64, levels), make([]int64, options)
		var p Point
		for i := range n {
			u := (float64(i) + 0.5) / float64(n)
			s.FromUnit(&p, []float64{u, u})
			if err := s.Allows(&p); err != nil {
				t.Fatal(err)
			}
			byLevel[s.LevelOf(0, p.X[0])]++
			byOption[p.Choice[0]]++
		}
		for k, c := range byLevel {
			if c != n/levels {
				t.Fatalf("level %d of %d got %d of %d", k, levels, c, n)
			}
		}
		for k, c := range byOption {
			if c != n/options {
				t.Fatalf("option %d of %d got %d of %d", k, options, c, n)
			}
		}
	})
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	good := Dim{Name: "a", Low: 0, High: 10, PerUnit: 1}
	with := func(change func(*Dim)) []Dim {
		d := good
		change(&d)
		return []Dim{d}
	}
	for _, c := range []struct {
		space Space
		says  []string
	}{
		{Space{}, []string{"nothing may vary"}},
		{Space{Dims: []Dim{good, good}}, []string{`the name "a" stands for two things`}},
		{Space{Dims: with(func(d *Dim) { d.Name = "" })}, []string{"number 1 has no name"}},
		{Space{Dims: with(func(d *Dim) { d.PerUnit = 0 })}, []string{"a has 0 quanta per unit"}},
		{Space{Dims: with(func(d *Dim) { d.High = math.MaxInt64 })}, []string{"too large to hold exactly"}},
		{Space{Dims: with(func(d *Dim) { d.Low = 20 })}, []string{"a runs from 20 to 10; the lower end must come first"}},
		{Space{Dims: with(func(d *Dim) { d.Step = -1 })}, []string{"a has a step of -1; it must be positive"}},
		{Space{Dims: with(func(d *Dim) { d.Step, d.Design = 100, 50 })}, []string{"steps of 100 counted from 50 all miss the range 0 to 10"}},
		{Space{Choices: []Choice{{Name: "side"}}}, []string{"side has nothing to choose from"}},
		{Space{Choices: []Choice{{Name: "side", Options: []string{"l", "r"}, Design: 2}}}, []string{"side has 2 options, but its design is number 2"}},
		{Space{Dims: with(func(d *Dim) { d.Low = 20 }), Choices: []Choice{{Name: "a"}}}, []string{"lower end", "stands for two things", "nothing to choose"}},
	} {
		err := c.space.Check()
		if err == nil {
			t.Errorf("%+v is accepted", c.space)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%+v: %q does not say %q", c.space, err, s)
			}
		}
	}
	if err := (&Space{Dims: []Dim{good}}).Check(); err != nil {
		t.Error(err)
	}
}

func TestAllows(t *testing.T) {
	s := &Space{Dims: []Dim{{Name: "a", Low: 0, High: 10_000, Design: 500, Step: 1000, PerUnit: 1000}}, Choices: []Choice{{Name: "side", Options: []string{"l", "r"}}}}
	for _, c := range []struct {
		p    Point
		says string
	}{
		{Point{X: []float64{3.5}, Choice: []int{1}}, ""},
		{Point{X: []float64{3.5}}, "1 numbers and 0 choices"},
		{Point{X: []float64{3.4}, Choice: []int{1}}, "a is 3.4, which is not allowed; the nearest allowed value is 3.5"},
		{Point{X: []float64{11.5}, Choice: []int{1}}, "the nearest allowed value is 9.5"},
		{Point{X: []float64{math.NaN()}, Choice: []int{1}}, "a is not a finite number"},
		{Point{X: []float64{3.5}, Choice: []int{2}}, "side has 2 options, but number 2 is chosen"},
	} {
		err := s.Allows(&c.p)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%+v: %v, should say %q", c.p, err, c.says)
		}
	}
	d := s.Design()
	if d.X[0] != 0.5 || d.Choice[0] != 0 || d.Parent != NoParent {
		t.Errorf("design is %+v", d)
	}
}
