// Command objective lends the objective of a built-in study to programs that are no part of trammel, and runs trammel's
// own searches on it while counting their evaluations. It is a tool for measurements: studies/checks/searches.py drives
// it, and no user needs it.
//
//	objective serve  [-free] STUDY       evaluates what it reads from standard input, see serve
//	objective price  [-free] STUDY       prints what an evaluation with derivatives costs, in plain ones
//	objective search [-free] -method METHOD -rows N [-goal SCORE] -price P -seeds FROM-TO STUDY
//
// STUDY is the name of an example. With -free its numbers keep to no steps. A search prints a line of JSON for
// every seed.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"

	"trammel/optimize"
	"trammel/studies"
)

func main() {
	if err := run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "objective:", err)
		os.Exit(1)
	}
}

// options are those of the command line.
type options struct {
	free        bool
	method      string
	rows        float64
	goal, price float64
	from, to    int
}

// seeds is the flag FROM-TO.
type seeds struct{ o *options }

func (s seeds) String() string {
	if s.o == nil {
		return ""
	}
	return fmt.Sprintf("%d-%d", s.o.from, s.o.to)
}

// Set reads FROM-TO.
func (s seeds) Set(text string) error {
	if n, err := fmt.Sscanf(text, "%d-%d", &s.o.from, &s.o.to); n != 2 || err != nil || s.o.from < 0 || s.o.to < s.o.from {
		return fmt.Errorf("seeds are written FROM-TO, such as 1-21")
	}
	return nil
}

func run(args []string, in io.Reader, out, errors io.Writer) error {
	if len(args) == 0 {
		return fmt.Errorf("what to do is missing: serve, price or search")
	}
	o := options{rows: 10_000, price: 5, from: 1, to: 1}
	set := flag.NewFlagSet(args[0], flag.ContinueOnError)
	set.SetOutput(errors)
	set.BoolVar(&o.free, "free", false, "numbers keep to no steps")
	set.StringVar(&o.method, "method", "refine", "refine, blind, study, local, cma-es or differential-evolution")
	set.Float64Var(&o.rows, "rows", o.rows, "evaluations of a seed")
	set.Float64Var(&o.goal, "goal", -1, "a score at which a seed ends")
	set.Float64Var(&o.price, "price", o.price, "what an evaluation with derivatives counts")
	set.Var(seeds{&o}, "seeds", "FROM-TO")
	if err := set.Parse(args[1:]); err != nil {
		return err
	}
	if set.NArg() != 1 {
		return fmt.Errorf("one study is needed, not %d", set.NArg())
	}
	st, err := bind(set.Arg(0), o.free)
	if err != nil {
		return err
	}
	switch args[0] {
	case "serve":
		return serve(st, o.free, in, out)
	case "price":
		return price(st, out)
	case "search":
		return search(st, set.Arg(0), &o, out)
	}
	return fmt.Errorf("%q is none of serve, price, search", args[0])
}

// bind reads an example.
func bind(name string, free bool) (*studies.Study, error) {
	f, err := studies.ReadExample(name)
	if err != nil {
		return nil, err
	}
	st, err := studies.Bind(f)
	if err != nil {
		return nil, err
	}
	if free {
		for i := range st.Space.Dims {
			st.Space.Dims[i].Step = 0
		}
	}
	return st, nil
}

// sample returns points all over the box.
func sample(space *optimize.Space, n int) ([]optimize.Point, error) {
	plan, err := optimize.NewPlan(space, optimize.DefaultPlan())
	if err != nil {
		return nil, err
	}
	points := make([]optimize.Point, n)
	for i := range points {
		plan.At(&points[i], int64(i))
	}
	return points, nil
}
