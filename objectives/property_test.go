package objectives

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// positions is how many values the random column has.
const positions = 7

func number(low, high float64) *rapid.Generator[float64] { return rapid.Float64Range(low, high) }

// column draws values, some of them missing.
func column(t *rapid.T, label string) []float64 {
	out := make([]float64, positions)
	for i := range out {
		out[i] = number(-100, 100).Draw(t, label)
		if rapid.IntRange(0, 9).Draw(t, "missing") == 0 {
			out[i] = math.NaN()
		}
	}
	return out
}

// drawTarget draws a target of a shape over some rows of the column.
func drawTarget(t *rapid.T, shape Shape) Target {
	n := rapid.IntRange(1, positions).Draw(t, "rows")
	tg := Target{Name: "t", Shape: shape, Weight: number(0, 9).Draw(t, "weight")}
	travel := -60.0
	for i := range n {
		travel += number(0.5, 20).Draw(t, "step")
		tg.Series.Rows, tg.Series.Travel = append(tg.Series.Rows, i), append(tg.Series.Travel, travel)
		tg.Want = append(tg.Want, number(-50, 50).Draw(t, "want"))
		tg.Above = append(tg.Above, number(0.01, 10).Draw(t, "above"))
		tg.Below = append(tg.Below, number(0.01, 10).Draw(t, "below"))
	}
	return tg
}

func drawShape(t *rapid.T) Shape { return Shape(rapid.IntRange(0, int(AtLeast)).Draw(t, "shape")) }

// closeTo compares results of sums in another order.
func closeTo(a, b, scale float64) bool { return math.Abs(a-b) <= 1e-9*(scale+math.Abs(b)) }

// TestScoreIsTheSumOfSquares: score, the sum of squared residuals and the weighted mean of the squared
// misses are one number, robust or not.
func TestScoreIsTheSumOfSquares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawTask(t)
		targets := c.o.Targets
		res, r := c.o.NewResult(), make([]float64, len(c.o.R))
		c.o.Evaluate(c.values, c.start, r, make([]float64, len(c.o.G)), res)
		var sum, weights float64
		for i, tg := range targets {
			sum += tg.Weight * res.Targets[i].Miss * res.Targets[i].Miss
			weights += tg.Weight
		}
		if mean := sum / weights; !closeTo(res.Score, mean, 1e-12) || !closeTo(sumOfSquares(r), mean, 1e-12) {
			t.Fatalf("score %v, sum of squares %v, weighted mean %v", res.Score, sumOfSquares(r), mean)
		}
	})
}

// TestUnitsDoNotMatter: a measure, what is wanted of it and within, all in another unit, score the same;
// and so do weights that are all multiplied.
func TestUnitsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tg := drawTarget(t, drawShape(t))
		tg.Weight++
		other := drawTarget(t, drawShape(t))
		values := column(t, "value")
		before, _, _ := evaluate(New([]Target{tg, other}, nil), values, nil)
		const unit = 64 // a power of two, so that nothing is rounded
		scale := func(x []float64) (out []float64) {
			for _, v := range x {
				out = append(out, unit*v)
			}
			return out
		}
		weight := number(0.1, 10).Draw(t, "factor")
		for _, k := range []*Target{&tg, &other} {
			k.Want, k.Above, k.Below = scale(k.Want), scale(k.Above), scale(k.Below)
			k.Weight *= weight
		}
		after, _, _ := evaluate(New([]Target{tg, other}, nil), scale(values), nil)
		if !closeTo(after.Score, before.Score, 1e-12) {
			t.Fatalf("score %v, in another unit %v", before.Score, after.Score)
		}
	})
}

// TestStraightIgnoresALineAndEvenAConstant adds what the shapes do not look at.
func TestStraightIgnoresALineAndEvenAConstant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shape := rapid.SampledFrom([]Shape{Straight, Even}).Draw(t, "shape")
		tg := drawTarget(t, shape)
		tg.Weight = 1
		values := column(t, "value")
		a, b := number(-9, 9).Draw(t, "constant"), number(-9, 9).Draw(t, "slope")
		if shape == Even {
			b = 0
		}
		moved := append([]float64(nil), values...)
		for i, row := range tg.Series.Rows {
			moved[row] += a + b*tg.Series.Travel[i]
		}
		o := New([]Target{tg}, nil)
		before, _, _ := evaluate(o, values, nil)
		after, _, _ := evaluate(o, moved, nil)
		if math.Abs(before.Targets[0].Miss-after.Targets[0].Miss) > 1e-9*(1+before.Targets[0].Miss)*1e3/minimum(tg.Above, tg.Below) {
			t.Fatalf("miss %v, moved %v", before.Targets[0].Miss, after.Targets[0].Miss)
		}
	})
}

func minimum(lists ...[]float64) float64 {
	least := math.Inf(1)
	for _, l := range lists {
		for _, v := range l {
			least = math.Min(least, v)
		}
	}
	return least
}

// TestRisingIsFallingUpsideDown turns the values over.
func TestRisingIsFallingUpsideDown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		up := drawTarget(t, Rising)
		up.Weight = 1
		down := up
		down.Shape, down.Above, down.Below = Falling, up.Below, up.Above
		values := column(t, "value")
		turned := make([]float64, len(values))
		for i := range values {
			turned[i] = -values[i]
		}
		a, ra, _ := evaluate(New([]Target{up}, nil), values, nil)
		b, rb, _ := evaluate(New([]Target{down}, nil), turned, nil)
		if a.Score != b.Score || a.Targets[0].Met != b.Targets[0].Met {
			t.Fatalf("score %v rising, %v falling upside down", a.Score, b.Score)
		}
		for i := range ra {
			if a.Targets[0].Miss != Missing && ra[i] != -rb[i] {
				t.Fatalf("residual %d: %v rising, %v falling upside down", i, ra[i], rb[i])
			}
		}
	})
}

// TestViolationIsTheSumOfBrokenLimits: Over is the greatest of its places that have a value, and a limit
// counts when that is above Broken.
func TestViolationIsTheSumOfBrokenLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var limits []Limit
		for range rapid.IntRange(1, 4).Draw(t, "limits") {
			l := Limit{Name: "l", Series: []Series{series(positions)}, Min: number(-99, 0).Draw(t, "min"),
				Max: number(0, 99).Draw(t, "max"), Spread: number(0, 300).Draw(t, "spread"), Scale: number(0.1, 50).Draw(t, "scale")}
			limits = append(limits, l)
		}
		values := column(t, "value")
		values[0] = number(-100, 100).Draw(t, "first") // some value there is
		o := New(nil, limits)
		res, _, g := evaluate(o, values, nil)
		want := 0.0
		for i, l := range limits {
			worst := math.Inf(-1)
			for k, slot := range o.G {
				if missing := math.IsNaN(values[slot.Row]); missing && g[k] != -1 {
					t.Fatalf("a place without a value stands at %v, want -1", g[k])
				} else if slot.Entry == i && !missing {
					worst = math.Max(worst, g[k])
				}
			}
			if res.Limits[i].Over != worst {
				t.Fatalf("limit %d is over by %v, its places by %v", i, res.Limits[i].Over, worst)
			}
			broken := false
			least, greatest := math.Inf(1), math.Inf(-1)
			for _, v := range values {
				if math.IsNaN(v) {
					continue
				}
				least, greatest = math.Min(least, v), math.Max(greatest, v)
				broken = broken || v-l.Max > Broken*l.Scale || l.Min-v > Broken*l.Scale
			}
			broken = broken || greatest-least-l.Spread > Broken*l.Scale
			if broken != (res.Limits[i].Over > Broken) {
				t.Fatalf("limit %d: broken %v, over %v", i, broken, res.Limits[i].Over)
			}
			if broken {
				want += res.Limits[i].Over
			}
		}
		if !closeTo(res.Violation, want, 0) {
			t.Fatalf("violation %v, want %v", res.Violation, want)
		}
	})
}
