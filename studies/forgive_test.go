package studies

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"
)

// allRobust binds every example with all of its targets made robust.
func allRobust(t *testing.T) map[string]*Study {
	t.Helper()
	nights, err := filepath.Glob(filepath.Join("examples", "*night*.yaml"))
	if err != nil || len(nights) == 0 {
		t.Fatalf("no examples (%v)", err)
	}
	out := map[string]*Study{}
	for _, path := range nights {
		f, err := files.ReadStudy(os.ReadFile, path)
		if err != nil {
			t.Fatal(err)
		}
		for i := range f.Targets {
			f.Targets[i].Robust = true
		}
		out[filepath.Base(path)] = mustBind(t, f)
	}
	return out
}

// TestSlopesOfRobustTargets probes the rows that errors add, of every example and of all shapes, against Richardson's central
// differences of the evaluator itself with steps of its own, to 1e-5 of a row's greatest derivative. The slope of such a row
// has a kink where the departure is 0 (its square and that of the plain residual are smooth together, and neither is
// alone), so that differences across it do not settle; these are left out and must be few.
func TestSlopesOfRobustTargets(t *testing.T) {
	all := allRobust(t)
	all["shapes"] = onDisk(t, "robust.yaml")
	for name, st := range all {
		t.Run(name, func(t *testing.T) {
			e := st.NewEvaluator()
			p := offLattice(st, rand.New(rand.NewPCG(5, 3)))
			p.Derivatives = true
			o := outcome(st, e, &p)
			if o.Status.Failed() {
				t.Fatal("it does not assemble there")
			}
			want, doubt := richardson(st, &p)
			n, probed, left := len(p.X), 0, 0
			for i := range st.Objective.Targets {
				rows := added(st.Objective, i)
				most := 0.0 // of the target
				for _, r := range rows {
					most = math.Max(most, greatest(o.JR[r*n:(r+1)*n]))
				}
				for _, r := range rows {
					size := math.Max(greatest(o.JR[r*n:(r+1)*n]), 1e-6*most)
					for k := r * n; k < (r+1)*n; k++ {
						if doubt[k] > 1e-6*size {
							left++
							continue
						}
						probed++
						if math.Abs(o.JR[k]-want[k]) > 1e-5*size {
							t.Errorf("%s with %s: %.9g, probed %.9g", st.rowName(r, e.values), st.Space.Dims[k%n].Name, o.JR[k], want[k])
						}
					}
				}
			}
			if probed == 0 || left > probed/10 {
				t.Errorf("%d derivatives are probed and %d left out", probed, left)
			}
		})
	}
}

// richardson returns the derivatives of R by differences, laid out as JR is, and how sure they are.
func richardson(st *Study, p *optimize.Point) (want, doubt []float64) {
	e, n := st.NewEvaluator(), len(p.X)
	want, doubt = make([]float64, len(st.Objective.R)*n), make([]float64, len(st.Objective.R)*n)
	for k := range n {
		var d [3][]float64
		for i := range d {
			h := 3 * besideStep(st.varyOf(k).Unit) / float64(int(1)<<i)
			q := *p
			q.Derivatives = false
			q.X = slices.Clone(p.X)
			q.X[k] += h
			up := outcome(st, e, &q)
			q.X[k] -= 2 * h
			down := outcome(st, e, &q)
			for r := range up.R {
				d[i] = append(d[i], (up.R[r]-down.R[r])/(2*h))
			}
		}
		for r := range d[0] {
			a, b := (4*d[1][r]-d[0][r])/3, (4*d[2][r]-d[1][r])/3
			want[r*n+k] = (16*b - a) / 15
			doubt[r*n+k] = math.Abs(want[r*n+k] - b)
		}
	}
	return want, doubt
}

func greatest(x []float64) (most float64) {
	for _, v := range x {
		most = math.Max(most, math.Abs(v))
	}
	return most
}

// added returns the rows that errors add to a target, which are the second half of its own.
func added(o *objectives.Objective, target int) (rows []int) {
	for r := range o.R {
		if o.R[r].Entry == target {
			rows = append(rows, r)
		}
	}
	if !o.Targets[target].Robust {
		return nil
	}
	return rows[len(rows)/2:]
}
