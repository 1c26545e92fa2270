package studies

import (
	"math"
	"slices"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// slopes is what an Evaluator needs to differentiate: the directions in which the varied numbers move the drawing, and
// room for the derivatives of every value that targets and limits read.
type slopes struct {
	turns   bool                // some number turns points, so that directions depend on the candidate
	speeds  [][]r3.Vec          // by number and point: mm for one unit of the number
	dirs    []kin.Direction     // by number
	sweeps  []kin.Slopes        // by sweep; no room where nothing reads the sweep
	at      []objectives.Slopes // the same, and behind them those of the deviations of robust targets
	reading []bool              // by sweep
}

// newSlopes makes room for the derivatives of a study.
func (st *Study) newSlopes() *slopes {
	n := len(st.moves)
	s := &slopes{dirs: make([]kin.Direction, n)}
	for i := range st.moves {
		s.turns = s.turns || st.moves[i].kind == files.VaryTurn
		s.speeds = append(s.speeds, make([]r3.Vec, len(st.base)))
	}
	for i, sw := range st.sweeps {
		wanted := st.Objective.Reads(i, sw.Size())
		reading := slices.Contains(wanted, true)
		room := 0
		if reading {
			room = sw.Size() * n
		}
		s.sweeps = append(s.sweeps, kin.Slopes{Directions: s.dirs, Wanted: wanted, At: make([]float64, room)})
		s.at = append(s.at, objectives.Slopes(s.sweeps[i].At))
		s.reading = append(s.reading, reading)
	}
	if st.forgive != nil {
		for _, t := range st.forgive.built.Targets {
			s.at = append(s.at, make(objectives.Slopes, len(t.Series.Rows)*n))
		}
	}
	return s
}

// aim finds the direction of every varied number at a candidate that place has placed: what follows one number is carried
// on by the turns that act after it.
//
//	x = c + R(θ)(y − c):  dx/dp = R(θ) dy/dp,  dx/dθ = a × (x − c)
func (e *Evaluator) aim(p *optimize.Point) {
	if e.slopes == nil {
		e.slopes = e.st.newSlopes()
	} else if !e.slopes.turns {
		return
	}
	st, s := e.st, e.slopes
	for i := range st.moves {
		m, v := &st.moves[i], s.speeds[i]
		clear(v)
		by := r3.Vec{}
		switch m.kind {
		case files.VaryCoordinate, files.VaryMove:
			units := st.File.Geometry.Units
			by = r3.Scale(units.ToMM(units.PerUnit()), st.File.Geometry.Direction(byte('x'+m.axis)))
		case files.VaryAlong:
			by = r3.Scale(m.scale, m.dir)
		default:
			continue
		}
		for _, k := range m.points {
			v[k] = by
		}
	}
	if s.turns {
		e.aimTurns(p)
	}
	for i := range s.dirs {
		d := &s.dirs[i]
		d.Reset()
		for k, v := range s.speeds[i] {
			if v != (r3.Vec{}) {
				st.Program.Move(d, k, v)
			}
		}
	}
}

// aimTurns goes through the turns as place did. A point's place between two turns is found by taking the later ones back.
func (e *Evaluator) aimTurns(p *optimize.Point) {
	st, s := e.st, e.slopes
	for i := range st.moves {
		m := &st.moves[i]
		if m.kind != files.VaryTurn {
			continue
		}
		angle := p.X[i] * m.scale
		for _, k := range m.points {
			for j := range s.speeds {
				if v := &s.speeds[j][k]; *v != (r3.Vec{}) {
					*v = rotated(*v, m.dir, angle)
				}
			}
			x := e.points[k]
			for j := len(st.moves) - 1; j > i; j-- {
				if later := &st.moves[j]; later.kind == files.VaryTurn && slices.Contains(later.points, k) {
					x = r3.Add(later.from, rotated(r3.Sub(x, later.from), later.dir, -p.X[j]*later.scale))
				}
			}
			s.speeds[i][k] = r3.Scale(m.scale, r3.Cross(m.dir, r3.Sub(x, m.from)))
		}
	}
}

// rotated turns a vector about a unit axis by an angle, rad (Rodrigues' formula).
func rotated(d, axis r3.Vec, angle float64) r3.Vec {
	sin, cos := math.Sincos(angle)
	return r3.Add(r3.Scale(cos, d), r3.Add(r3.Scale(sin, r3.Cross(axis, d)), r3.Scale((1-cos)*r3.Dot(axis, d), axis)))
}

// run solves sweep i, with the derivatives that are read of it where they are asked for.
func (e *Evaluator) run(i int, derivatives bool) (int, kin.Failure) {
	if derivatives && e.slopes.reading[i] {
		return e.state.RunSlopes(e.st.sweeps[i], e.values[i], &e.slopes.sweeps[i])
	}
	return e.state.Run(e.st.sweeps[i], e.values[i])
}

// differentiate fills JR and JG of an outcome, one row for each of R and G and one column for each number of X.
func (e *Evaluator) differentiate(o *optimize.Outcome) {
	n := len(e.st.moves)
	o.JR, o.JG = room(o.JR, len(o.R)*n), room(o.JG, len(o.G)*n)
	e.st.Objective.Differentiate(e.values, e.st.start, e.slopes.at, e.result, o.JR, o.JG, n)
}

func room(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
