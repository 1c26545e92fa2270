// Gaps reads pairs of solids, a JSON object a line, and writes the gap of each: the way to package kin/gap for checks in other
// languages.
//
// A line in is {"a": SOLID, "b": SOLID}, with a solid as {"kind": "ring", "at": [[x, y, z], ...], "r": 1, "in": 0, "round": 0}; its
// kind and its fields are those of gap.Solid. A line out is {"gap": mm, "a": [x, y, z], "b": [x, y, z]}, with the nearest points.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"trammel/kin/gap"

	"gonum.org/v1/gonum/spatial/r3"
)

// solid is a gap.Solid as a line has it.
type solid struct {
	Kind  string       `json:"kind"`
	At    [][3]float64 `json:"at"`
	R     float64      `json:"r"`
	In    float64      `json:"in"`
	Round float64      `json:"round"`
}

// found is a line out.
type found struct {
	Gap float64    `json:"gap"`
	A   [3]float64 `json:"a"`
	B   [3]float64 `json:"b"`
}

func main() {
	if err := answer(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// answer writes a line for each pair that it reads; the error names the line that is wrong.
func answer(in io.Reader, out io.Writer) error {
	dec := json.NewDecoder(in)
	dec.DisallowUnknownFields()
	to := bufio.NewWriter(out)
	enc := json.NewEncoder(to)
	for line := 1; ; line++ {
		var pair struct{ A, B solid }
		if err := dec.Decode(&pair); errors.Is(err, io.EOF) {
			return to.Flush()
		} else if err != nil {
			return fmt.Errorf("line %d: %w", line, err)
		}
		a, err := pair.A.gap()
		if err != nil {
			return fmt.Errorf("line %d: the first solid: %w", line, err)
		}
		b, err := pair.B.gap()
		if err != nil {
			return fmt.Errorf("line %d: the second solid: %w", line, err)
		}
		var t gap.Touch
		gap.Between(a, b, &t)
		if err := enc.Encode(found{t.Gap, [3]float64{t.A.X, t.A.Y, t.A.Z}, [3]float64{t.B.X, t.B.Y, t.B.Z}}); err != nil {
			return fmt.Errorf("line %d: %w", line, err)
		}
	}
}

// gap returns the solid as package gap has it, or why it makes no sense.
func (s *solid) gap() (*gap.Solid, error) {
	g := &gap.Solid{R: s.R, In: s.In, Round: s.Round}
	for g.Kind.String() != s.Kind {
		if g.Kind == gap.Plane {
			return nil, fmt.Errorf("%q is no kind of solid; there are capsule, box, ring and plane", s.Kind)
		}
		g.Kind++
	}
	if len(s.At) != g.Kind.Places() {
		return nil, fmt.Errorf("a %s has %d places, not %d", s.Kind, g.Kind.Places(), len(s.At))
	}
	for i, p := range s.At {
		g.At[i] = r3.Vec{X: p[0], Y: p[1], Z: p[2]}
	}
	return g, g.Check()
}
