package files

import (
	"fmt"
	"math"
	"math/big"
	"reflect"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// anyFrame draws units, axes, origin and side.
func anyFrame(t *rapid.T) *Geometry {
	var all []Axes
	for x := Forward; x <= Downward; x++ {
		for y := Forward; y <= Downward; y++ {
			for z := Forward; z <= Downward; z++ {
				if x/2 != y/2 && y/2 != z/2 && z/2 != x/2 {
					all = append(all, Axes{x, y, z})
				}
			}
		}
	}
	g := &Geometry{
		Units:  rapid.SampledFrom([]Unit{Millimetre, Inch}).Draw(t, "units"),
		Axes:   rapid.SampledFrom(all).Draw(t, "axes"),
		Side:   rapid.SampledFrom([]Side{Left, Right}).Draw(t, "side"),
		Origin: anyPoint(t, "origin"),
	}
	g.LeftHanded = !g.Axes.rightHanded()
	return g
}

func anyPoint(t *rapid.T, label string) (n [3]int64) {
	for i := range n {
		n[i] = rapid.Int64Range(-maxLength, maxLength).Draw(t, label)
	}
	return n
}

// To ISO and back is the same number of quanta, whatever the units, axes, origin and side.
func TestFrameRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyFrame(t)
		n := anyPoint(t, "point")
		back := g.FromISO(g.ToISO(n))
		for i := range n {
			if q := int64(math.Round(back[i] * float64(g.Units.PerUnit()))); q != n[i] {
				t.Fatalf("axis %d: %d went and came back as %d", i, n[i], q)
			}
		}
	})
}

// Directions are unit vectors square to one another; a right-handed file on the left side keeps its
// hand, a mirror turns it; and a step along a file axis is a step along its direction.
func TestFrameDirections(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyFrame(t)
		x, y, z := g.Direction('x'), g.Direction('y'), g.Direction('z')
		hand := r3.Dot(r3.Cross(x, y), z)
		want := 1.0
		if g.LeftHanded != (g.Side == Right) {
			want = -1
		}
		if hand != want {
			t.Fatalf("the hand is %v, want %v", hand, want)
		}
		n := anyPoint(t, "point")
		for i, d := range []r3.Vec{x, y, z} {
			m := n
			m[i] += g.Units.PerUnit()
			step := r3.Sub(g.ToISO(m), g.ToISO(n))
			if r3.Norm(r3.Sub(step, r3.Scale(g.Units.ToMM(g.Units.PerUnit()), d))) > 1e-9 {
				t.Fatalf("a unit along %c is %v, and its direction %v", 'x'+i, step, d)
			}
		}
	})
}

// Inches are exact: the double is the one nearest to n·25.4/10000 mm computed without rounding.
func TestUnitExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-maxLength, maxLength).Draw(t, "n")
		in, _ := big.NewRat(n*254, 100000).Float64()
		mm, _ := big.NewRat(n, 1000).Float64()
		if Inch.ToMM(n) != in || Millimetre.ToMM(n) != mm {
			t.Fatalf("%d quanta are %v and %v mm, want %v and %v", n, Inch.ToMM(n), Millimetre.ToMM(n), in, mm)
		}
		for _, u := range []Unit{Millimetre, Inch} {
			if u.FromMM(u.ToMM(n)) != n {
				t.Fatalf("%d %s came back as %d", n, u, u.FromMM(u.ToMM(n)))
			}
			num, complaint := parseNumber(u.Format(n))
			if q, remark, bad := num.quanta(u); complaint+remark+bad != "" || q != n {
				t.Fatalf("%s is read as %d %s%s%s", u.Format(n), q, complaint, remark, bad)
			}
		}
	})
}

// A geometry with moved points, written and read, is the same geometry.
func TestEncodeRoundTrip(t *testing.T) {
	var starts []*Geometry
	for _, name := range goodGeometries(t) {
		starts = append(starts, mustGeometry(t, name))
	}
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.SampledFrom(starts).Draw(t, "geometry")
		n := make([][3]int64, len(start.Points))
		for i, p := range start.Points {
			n[i] = p.N
			for k := range n[i] {
				n[i][k] += rapid.Int64Range(-2000, 2000).Draw(t, "by")
			}
		}
		g := start.WithPoints(n)
		g.Name = rapid.StringMatching(`[!-~äß€]([ -~äß€]{0,30}[!-~äß€])?`).Draw(t, "name")
		g.Wheel.Camber = rapid.Float64Range(-44, 44).Draw(t, "camber")
		back, err := ReadGeometry(oneFile("x", string(g.Encode())), "x")
		if err != nil {
			t.Fatalf("%v\n%s", err, g.Encode())
		}
		if !reflect.DeepEqual(bare(back), bare(g)) {
			t.Fatalf("got %+v\nwant %+v", bare(back), bare(g))
		}
		table := "points: x.csv\n"
		text := string(g.Encode())
		from, to := strings.Index(text, "points:"), strings.Index(text, "\nmembers:")
		files := map[string]string{"x": text[:from] + table + text[to:], "x.csv": string(g.EncodePoints())}
		back, err = ReadGeometry(func(path string) ([]byte, error) { return []byte(files[path]), nil }, "x")
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(bare(back), bare(g)) {
			t.Fatal("through a table it is another geometry")
		}
	})
}

// WithPoints leaves the geometry it was called on alone.
func TestWithPointsCopies(t *testing.T) {
	g := mustGeometry(t, "good/front.yaml")
	before := fmt.Sprint(g.Points)
	g.WithPoints(make([][3]int64, len(g.Points)))
	if fmt.Sprint(g.Points) != before {
		t.Error("the points moved")
	}
}

// Evenly spaced travels hit the ends and every value once rounded: the reference is exact arithmetic.
func TestSpacedExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]Unit{Millimetre, Inch}).Draw(t, "unit")
		a := rapid.Int64Range(-maxLength, maxLength).Draw(t, "from")
		b := rapid.Int64Range(-maxLength, maxLength).Draw(t, "to")
		n := rapid.IntRange(2, 200).Draw(t, "n")
		unit := big.NewRat(1, 1000)
		if u == Inch {
			unit = big.NewRat(254, 100000)
		}
		for i, got := range spaced(u, [2]int64{a, b}, n) {
			exact := new(big.Rat).SetFrac64((b-a)*int64(i), int64(n-1))
			exact.Add(exact, big.NewRat(a, 1)).Mul(exact, unit)
			if want, _ := exact.Float64(); got != want {
				t.Fatalf("value %d is %v, want %v", i, got, want)
			}
		}
	})
}
