package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"trammel/optimize"
)

// TestServe: what the pipe answers is what an Evaluator says of the allowed point nearest to each, derivatives included.
func TestServe(t *testing.T) {
	for _, study := range []string{"corncrake", "whinchat"} { // the second has a choice
		t.Run(study, func(t *testing.T) { testServe(t, study) })
	}
}

func testServe(t *testing.T, study string) {
	st, err := bind(study, false)
	if err != nil {
		t.Fatal(err)
	}
	points, err := sample(&st.Space, 8)
	if err != nil {
		t.Fatal(err)
	}
	n, c, m, k := len(st.Space.Dims), len(st.Space.Choices), len(st.Objective.R), len(st.Objective.G)
	for _, derivatives := range []bool{false, true} {
		asked := []byte{byte(len(points)), 0, 0, 0, 0, 0, 0, 0}
		if derivatives {
			asked[4] = 1
		}
		for i := range points {
			for d, x := range points[i].X {
				off := x
				if d%2 == 0 {
					off += 1e-5 // hundredths of the lattice, which is to go
				}
				asked = binary.LittleEndian.AppendUint64(asked, math.Float64bits(off))
			}
			for _, option := range points[i].Choice { // the ends of an option, where the last one has its upper end too
				within := []float64{0, 0.5, 0.999}[i%3]
				if i == 7 {
					option, within = len(st.Space.Choices[0].Options), 0
					points[i].Choice[0] = option - 1
				}
				asked = binary.LittleEndian.AppendUint64(asked, math.Float64bits(float64(option)+within))
			}
		}
		var out bytes.Buffer
		if err := serve(st, false, bytes.NewReader(asked), &out); err != nil {
			t.Fatal(err)
		}
		var got [4]uint32
		for i := range got {
			got[i] = binary.LittleEndian.Uint32(out.Next(4))
		}
		if want := [4]uint32{uint32(n), uint32(c), uint32(m), uint32(k)}; got != want {
			t.Fatalf("the counts are %v; %d numbers, %d choices, %d residuals and %d limits are right", got, n, c, m, k)
		}
		next := func(n int) []float64 {
			list := make([]float64, n)
			for i := range list {
				list[i] = math.Float64frombits(binary.LittleEndian.Uint64(out.Next(8)))
			}
			return list
		}
		next(n)
		for _, options := range next(c) {
			if options != 0 {
				t.Fatalf("a choice starts at %g", options)
			}
		}
		next(n)
		for i, options := range next(c) {
			if options != float64(len(st.Space.Choices[i].Options)) {
				t.Fatalf("choice %d ends at %g, with %d options", i, options, len(st.Space.Choices[i].Options))
			}
		}
		if design := next(n); !slices.Equal(design, st.Space.Design().X) {
			t.Fatalf("the design is told as %v", design)
		}
		for i, option := range next(c) {
			if int(option) != st.Space.Design().Choice[i] {
				t.Fatalf("the design's choice %d is told as %g", i, option)
			}
		}
		e := st.NewEvaluator()
		for i := range points {
			points[i].Derivatives = derivatives
			var o optimize.Outcome
			e.Evaluate(&points[i], &o)
			want := []float64{float64(o.Status), o.Reached, o.Score, o.Violation}
			if derivatives && !o.Status.Failed() {
				want = slices.Concat(want, o.R, o.G, o.JR, o.JG)
			} else if derivatives {
				want = append(want, make([]float64, (m+k)*(n+1))...)
			}
			if got := next(len(want)); !slices.Equal(got, want) {
				t.Fatalf("point %d with derivatives %v differs from the evaluator's", i, derivatives)
			}
		}
		if out.Len() != 0 {
			t.Errorf("%d bytes too many", out.Len())
		}
	}
}

// TestServeRefuses: a batch beyond the protocol ends it with an error, not with an answer.
func TestServeRefuses(t *testing.T) {
	st, err := bind("corncrake", true)
	if err != nil {
		t.Fatal(err)
	}
	nan := binary.LittleEndian.AppendUint64([]byte{1, 0, 0, 0, 0, 0, 0, 0}, math.Float64bits(math.NaN()))
	for _, in := range [][]byte{{1, 0, 0, 0, 7, 0, 0, 0}, {0, 0, 0, 1, 0, 0, 0, 0}, nan, {1, 0, 0}} {
		if err := serve(st, true, bytes.NewReader(in), &bytes.Buffer{}); err == nil {
			t.Errorf("%v is taken", in)
		}
	}
}

// TestSearch: every method ends at its goal or its evaluations, counts derivatives at their price, tells scores that the
// evaluator confirms, and tells the same of the same seed.
func TestSearch(t *testing.T) {
	for _, method := range []string{"refine", "blind", "study", "local", "cma-es", "differential-evolution"} {
		for _, study := range []string{"corncrake", "whinchat"} { // the second has a choice
			t.Run(method+" "+study, func(t *testing.T) { testSearch(t, method, study) })
		}
	}
}

func testSearch(t *testing.T, method, study string) {
	told := func() string {
		var out bytes.Buffer
		if err := run([]string{"search", "-method", method, "-rows", "600", "-price", "4", "-seeds", "3-3", study}, strings.NewReader(""), &out, &out); err != nil {
			t.Fatal(method, err)
		}
		return out.String()
	}
	first := told()
	if first != told() {
		t.Errorf("%s tells another thing the second time", method)
	}
	var got trace
	if err := json.Unmarshal([]byte(first), &got); err != nil {
		t.Fatal(err)
	}
	if want := float64(got.Rows-got.Derivatives) + 4*float64(got.Derivatives); got.Evaluations != want || want < 600 || want >= 604 {
		t.Errorf("%s: %d rows, %d of them with derivatives, are %g evaluations; %g is right, 600 or little more", method, got.Rows, got.Derivatives, got.Evaluations, want)
	}
	if got.Best < 0 {
		return
	}
	st, err := bind(study, false)
	if err != nil {
		t.Fatal(err)
	}
	n := len(st.Space.Dims)
	p := optimize.Point{X: got.X[:n]}
	for _, option := range got.X[n:] {
		p.Choice = append(p.Choice, int(option))
	}
	var o optimize.Outcome
	st.NewEvaluator().Evaluate(&p, &o)
	if !o.Feasible() || o.Score != got.Best {
		t.Errorf("%s: its best is %g; the evaluator says %s with %g", method, got.Best, o.Status, o.Score)
	}
}
