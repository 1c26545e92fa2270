package studies

import (
	"fmt"
	"math"
	"strings"

	"trammel/kin"
	"trammel/objectives"
	"trammel/optimize"
	"trammel/studies/files"

	"gonum.org/v1/gonum/spatial/r3"
)

// foundAxis is a joint of a study whose axis follows from all of its motions.
type foundAxis struct {
	limit  int // in the objective
	member int // of the program
	joint  *files.Joint
}

// autoJoint finds the joint whose axis is to be found of which a column is the tilt, and its member of the program.
func autoJoint(g *files.Geometry, p *kin.Program, name string) (member int, j *files.Joint) {
	t := files.PartMeasure(name)
	if t.Name != "tilt" {
		return -1, nil
	}
	for i, part := range g.Parts() {
		if part.Name == t.Member && p.Finds(i) {
			for k := range g.Joints {
				if g.Joints[k].Name == t.Member {
					return i, &g.Joints[k]
				}
			}
		}
	}
	return -1, nil
}

// fitOf says what has to hold all directions of a joint.
func fitOf(j *files.Joint) objectives.Axis {
	if j.RodIs == files.RodEye {
		return objectives.Band
	}
	return objectives.Cone
}

// directionNames are the measures of a direction: of a joint, with its name and a side or none before it.
var directionNames = [...]string{"axis_x", "axis_y", "axis_z"}

// findable refuses the tilt of a joint whose axis is found from every motion in a target or limit of one motion.
func (q *goals) findable(col *kin.Column) error {
	terms, _ := col.Terms()
	for i := range terms {
		if _, j := autoJoint(q.st.File.Geometry, q.st.Program, terms[i].Name); j != nil {
			_, what := j.Free()
			return fmt.Errorf("%s is measured from an axis that follows from all motions together, and binds in every study by itself; for a reserve give %s a smaller tilt in the geometry, or give its %s", terms[i].Name, j.Name, what)
		}
	}
	return nil
}

// axisPart makes the limit of a joint whose axis is to be found: the directions that it sees in every motion, three columns
// for each, on both sides of the car where they differ, for the parts of both are mirror images.
func (q *goals) axisPart(l *files.PartLimit, names []string, member int, j *files.Joint) part {
	p := part{name: l.Name, min: or(l.Min, -1), max: or(l.Max, 1), axis: fitOf(j), found: foundAxis{member: member, joint: j}}
	for i, motion := range q.motions {
		for k, name := range names {
			if k > 0 && q.st.mirrors(motion) {
				continue
			}
			for _, d := range directionNames {
				r, err := q.request(strings.TrimSuffix(name, "tilt")+d, i, nil)
				if err != nil {
					panic("studies: " + err.Error()) // every joint has them
				}
				p.requests = append(p.requests, r)
			}
		}
	}
	if tilt, err := q.st.Program.Column(l.Measure); err == nil {
		p.scale = tilt.Measure.Scale
	}
	return p
}

// axes gives the state the axes that the motions of the study find for the geometry that was placed last; none where it does
// not go through them.
func (e *Evaluator) axes() {
	st := e.st
	if st.found == nil {
		return
	}
	var o optimize.Outcome
	axis := func(*foundAxis) r3.Vec { return r3.Vec{X: math.NaN()} }
	if e.solve(&o, false) {
		st.Objective.Evaluate(e.values, st.start, e.r, e.g, e.result)
		axis = func(f *foundAxis) r3.Vec { return vector(e.result.Limits[f.limit].Fit.Axis) }
	}
	for i := range st.found {
		e.state.SetAxis(st.found[i].member, axis(&st.found[i]))
	}
}

// again runs the sweeps of the candidate that was just judged once more, with the derivatives that its limits need now: of all
// the directions that joints see, those alone that hold an axis.
func (e *Evaluator) again() {
	e.state.SetDesign(e.points)
	for i := range e.st.sweeps {
		if e.slopes.reading[i] {
			e.st.Objective.ReadsNow(i, e.result, e.slopes.sweeps[i].Wanted)
			e.run(i, true)
		}
	}
}

func vector(v objectives.Vec) r3.Vec { return r3.Vec(v) }

// JointState is the axis of a joint that was found from every motion: what to build.
type JointState struct {
	Name    string     `json:"name"`
	What    string     `json:"what"` // bore or bolt
	Body    string     `json:"body"` // that it is on
	Axis    [3]float64 `json:"axis"` // in the file's axes, on the side that the file draws; unit
	Tilt    float64    `json:"tilt"` // deg, the most over all motions
	Allowed float64    `json:"allowed"`
	Says    string     `json:"says"`

	once     bool
	keyName  string // of the key that fixes the axis
	measured r3.Vec // the axis as measures have it
}

// jointState says in the file's axes what was found.
func jointState(g *files.Geometry, j *files.Joint, axis r3.Vec, tilt float64) JointState {
	s := JointState{Name: j.Name, Body: j.Bodies[0], Tilt: tilt, Allowed: j.Tilt, once: j.Across, measured: axis}
	s.What, s.keyName = j.Free()
	if j.Across && g.Side == files.Right {
		axis.Y = -axis.Y // that of what exists once is the car's
	}
	most := 0.0
	for i := range s.Axis {
		s.Axis[i] = r3.Dot(axis, g.Direction("xyz"[i]))
		if math.Abs(s.Axis[i]) > math.Abs(most)+1e-9 {
			most = s.Axis[i]
		}
	}
	for i := range s.Axis { // a line has no sense: its greatest component is positive
		s.Axis[i] = s.Axis[i]*math.Copysign(1, most) + 0
	}
	s.Says = fmt.Sprintf("%s: %s on %s along [%s, %s, %s], tilt %s of %s deg", j.Name, s.What, s.Body,
		rounded(s.Axis[0], 4), rounded(s.Axis[1], 4), rounded(s.Axis[2], 4), rounded(tilt, 1), decimals(j.Tilt))
	if tilt > j.Tilt {
		s.Says += ", which is too much"
	}
	return s
}

// joints returns what the motions of the study found of the candidate that was evaluated last.
func (e *Evaluator) joints() []JointState {
	var out []JointState
	for i := range e.st.found {
		f := &e.st.found[i]
		if r := &e.result.Limits[f.limit]; r.At >= 0 {
			out = append(out, jointState(e.st.File.Geometry, f.joint, vector(r.Fit.Axis), r.Got))
		}
	}
	return out
}

// key is the axis as a geometry file gives it.
func (s *JointState) key() string {
	// So many digits that a tilt at its limit stays within it.
	return fmt.Sprintf("%s: [%.8f, %.8f, %.8f]", s.keyName, s.Axis[0], s.Axis[1], s.Axis[2])
}

// Found says in sentences along which axes a run wants the bores and bolts that its geometry leaves to be found; none where it
// leaves none, or does not go through every motion. A negative run is the best one. The geometry of a run does not fix them, for then a
// search that goes on from it could not find better ones.
func (a *Archive) Found(run int64) ([]string, error) {
	n, p, err := a.point(run)
	if err != nil {
		return nil, err
	}
	return a.bored(n, p), nil
}

func (a *Archive) bored(n int64, p *optimize.Point) (says []string) {
	v, ok := a.verdict(n, p)
	if !ok {
		return nil
	}
	for i := range v.Joints {
		j := &v.Joints[i]
		says = append(says, fmt.Sprintf("%s. With %s the joint keeps this axis; without, it is found anew.", j.Says, j.key()))
	}
	return says
}

// mirrored says that the other side's parts are mirror images, where there is one.
func mirrored(joints []JointState) string {
	for i := range joints {
		if !joints[i].once {
			return " (the other side's parts are mirror images)"
		}
	}
	return ""
}

// bores writes the axes of the best answer that a drawing needs.
func (ans *Answer) bores(b *strings.Builder) {
	best := &ans.Answers[0]
	if len(best.Joints) == 0 {
		return
	}
	fmt.Fprintf(b, "\nAxes that leave each joint the least tilt over all motions, in the file's axes with the car at design%s:\n", mirrored(best.Joints))
	for _, j := range best.Joints {
		fmt.Fprintf(b, "  %s\n", j.Says)
	}
}
