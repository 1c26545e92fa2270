package main

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"trammel/optimize"
	"trammel/studies"
)

// serve evaluates points that another program writes. Everything is little-endian: counts are uint32, numbers float64.
//
//	first it writes   n, c, m, k         numbers that vary, choices, residuals, limits
//	                  low, high, design  n+c numbers each
//	it reads          count, derivatives a batch: 1 or 0
//	                  x                  count·(n+c) numbers
//	it writes         for each point     status, reached, score, violation
//	                  with derivatives   also R (m), G (k), JR (m·n), JG (k·n)
//
// until nothing more comes. A point of a study with steps is moved to the nearest allowed one; a free one is evaluated as
// it is, put into the box. What a failed point lacks is written as zeros.
//
// Choices come after the numbers. One of w options is a number from 0 to w, of which each option has a length of 1, since
// searches of other packages know numbers only; the design is in the middle of its option.
func serve(st *studies.Study, free bool, in io.Reader, out io.Writer) error {
	s := server{
		st: st, free: free, e: remembering(st.NewEvaluator()), n: len(st.Space.Dims), c: len(st.Space.Choices), m: len(st.Objective.R), k: len(st.Objective.G),
		in: bufio.NewReaderSize(in, 1<<16), out: bufio.NewWriterSize(out, 1<<16),
	}
	s.counts(s.n, s.c, s.m, s.k)
	low, high := make([]float64, s.n+s.c), make([]float64, s.n+s.c)
	for i := range low {
		low[i], high[i] = s.ends(i)
	}
	design := st.Space.Design()
	s.numbers(low)
	s.numbers(high)
	s.numbers(design.X)
	for _, option := range design.Choice {
		s.numbers([]float64{float64(option) + 0.5})
	}
	for {
		if err := s.out.Flush(); err != nil {
			return err
		}
		if err := s.batch(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

type server struct {
	st      *studies.Study
	free    bool
	e       *known
	n, c    int
	m, k    int
	in      *bufio.Reader
	out     *bufio.Writer
	bytes   []byte
	outcome optimize.Outcome
}

// ends returns the lowest and the highest allowed value of a number, or of the number that stands for a choice.
func (s *server) ends(i int) (low, high float64) {
	space := &s.st.Space
	if i >= s.n {
		return 0, float64(len(space.Choices[i-s.n].Options))
	}
	return space.Value(i, space.Level(i, 0)), space.Value(i, space.Level(i, space.Levels(i)-1))
}

func (s *server) counts(list ...int) {
	for _, v := range list {
		s.out.Write(binary.LittleEndian.AppendUint32(nil, uint32(v)))
	}
}

func (s *server) numbers(list []float64) {
	for _, v := range list {
		s.bytes = binary.LittleEndian.AppendUint64(s.bytes[:0], math.Float64bits(v))
		s.out.Write(s.bytes)
	}
}

// batch reads, evaluates and answers one batch.
func (s *server) batch() error {
	var head [8]byte
	if _, err := io.ReadFull(s.in, head[:]); err != nil {
		return err
	}
	count, derivatives := binary.LittleEndian.Uint32(head[:4]), binary.LittleEndian.Uint32(head[4:])
	if derivatives > 1 || count > 1<<20 {
		return fmt.Errorf("a batch of %d points with derivatives %d; at most %d points with 0 or 1 are possible", count, derivatives, 1<<20)
	}
	p := s.st.Space.Design()
	p.Derivatives = derivatives == 1
	for range count {
		for i := range s.n + s.c {
			if _, err := io.ReadFull(s.in, head[:]); err != nil {
				return err
			}
			low, high := s.ends(i)
			x := math.Float64frombits(binary.LittleEndian.Uint64(head[:]))
			if math.IsNaN(x) {
				return fmt.Errorf("number %d of a point is none", i)
			}
			if x = min(max(x, low), high); i < s.n {
				p.X[i] = x
			} else {
				p.Choice[i-s.n] = int(min(x, high-1))
			}
		}
		if !s.free {
			s.st.Space.Snap(p.X, p.X)
		}
		s.answer(&p)
	}
	return nil
}

func (s *server) answer(p *optimize.Point) {
	o := &s.outcome
	o.Reset()
	o.X = append(o.X, p.X...)
	s.e.Evaluate(p, o)
	s.numbers([]float64{float64(o.Status), o.Reached, o.Score, o.Violation})
	if !p.Derivatives {
		return
	}
	for _, part := range []struct {
		list []float64
		n    int
	}{{o.R, s.m}, {o.G, s.k}, {o.JR, s.m * s.n}, {o.JG, s.k * s.n}} {
		if o.Status.Failed() {
			part.list = make([]float64, part.n)
		}
		s.numbers(part.list)
	}
}

// price prints what an evaluation with derivatives costs, in plain ones: the median of many turns, in each of which points
// all over the box that do not fail are evaluated in both ways.
func price(st *studies.Study, out io.Writer) error {
	points, err := sample(&st.Space, 512)
	if err != nil {
		return err
	}
	e := st.NewEvaluator()
	var o optimize.Outcome
	pass := func(derivatives bool) time.Duration {
		from := time.Now()
		for i := range points {
			points[i].Derivatives = derivatives
			o.Reset()
			e.Evaluate(&points[i], &o)
		}
		return time.Since(from)
	}
	points = slices.DeleteFunc(points, func(p optimize.Point) bool {
		o.Reset()
		e.Evaluate(&p, &o)
		return o.Status.Failed()
	})
	if len(points) < 16 {
		return fmt.Errorf("hardly any point of the box assembles")
	}
	var ratios, plain []float64
	for range 31 {
		short := pass(false)
		ratios = append(ratios, float64(pass(true))/float64(short))
		plain = append(plain, float64(short.Nanoseconds())/1e3/float64(len(points)))
	}
	slices.Sort(ratios)
	slices.Sort(plain)
	_, err = fmt.Fprintf(out, "%.2f %.1f\n", ratios[len(ratios)/2], plain[len(plain)/2])
	return err
}
