package kin_test

import (
	"flag"
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"
)

// Few random linkages of many layouts see more than many of one. A flag of the command line is stronger.
func init() {
	if err := flag.Set("rapid.checks", "12"); err != nil {
		panic(err)
	}
}

// forLayouts checks a property on random corners of every layout of two arms or five links.
func forLayouts(t *testing.T, property func(t *rapid.T, l *kin.Linkage)) {
	forAll(t, kintest.Layouts, property)
}

// forEvery checks a property on random linkages of every layout there is.
func forEvery(t *testing.T, property func(t *rapid.T, l *kin.Linkage)) {
	forAll(t, everyLayout, property)
}

func forAll(t *testing.T, layouts func() []kintest.Layout, property func(t *rapid.T, l *kin.Linkage)) {
	for i, layout := range layouts() {
		t.Run(layout.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { property(t, drawCorner(t, layouts()[i].Link, 8)) })
		})
	}
}

// drawCorner moves every coordinate of a linkage by up to reach and gives it another wheel, such that it
// goes through every place that drawPosition and drawSpot draw.
func drawCorner(t *rapid.T, l *kin.Linkage, reach float64) *kin.Linkage {
	move := rapid.Float64Range(-reach, reach)
	return rapid.Custom(func(t *rapid.T) *kin.Linkage {
		moved := *l
		moved.Points = slices.Clone(l.Points)
		for i := range moved.Points {
			p := &moved.Points[i]
			p.At = r3.Add(p.At, r3.Vec{X: move.Draw(t, p.Name+".x"), Y: move.Draw(t, p.Name+".y"), Z: move.Draw(t, p.Name+".z")})
		}
		moved.Wheel.Camber = rapid.Float64Range(-4, 4).Draw(t, "camber") * deg
		moved.Wheel.Toe = rapid.Float64Range(-2, 2).Draw(t, "toe") * deg
		return &moved
	}).Filter(closes).Draw(t, "corner")
}

// room are motions that a linkage goes through with something to spare.
var room = []*kin.Motion{
	kin.NewMotion("heave", kin.BothWheels, false, grid(3, 3, 44, 22)),
	kin.NewMotion("left", kin.LeftWheel, false, grid(3, 3, 34, 12)),
	kin.NewMotion("right", kin.RightWheel, false, grid(3, 3, 34, 12)),
	kin.NewMotion("roll", kin.BothWheels, true, rolled(11, 11, 2.8*deg)),
}

func rolled(wheel, rack, roll float64) []kin.Position {
	var out []kin.Position
	for _, k := range []float64{-1, 1} {
		for _, at := range grid(2, 2, wheel, rack) {
			at.Roll = k * roll
			out = append(out, at)
		}
	}
	return out
}

// closes tells whether a linkage goes through the travel of drawPosition and drawSpot.
func closes(l *kin.Linkage) bool {
	prog, err := kin.Compile(l)
	if err != nil {
		return false
	}
	s := prog.NewState()
	if s.SetDesign(prog.Points()).Status != kin.OK {
		return false
	}
	other, err := prog.Column("right.camber")
	if err != nil {
		return false
	}
	for _, m := range room {
		sw := prog.NewSweep(m, []kin.Column{other})
		if _, f := s.Run(sw, make([]float64, sw.Size())); f.Status != kin.OK {
			return false
		}
	}
	return true
}

func drawPosition(t *rapid.T) kin.Position {
	return kin.Position{Wheel: rapid.Float64Range(-40, 40).Draw(t, "wheel"), Rack: rapid.Float64Range(-20, 20).Draw(t, "rack")}
}

// drawSpot draws a position of any motion.
func drawSpot(t *rapid.T) spot {
	p := spot{at: drawPosition(t)}
	switch rapid.IntRange(0, 3).Draw(t, "motion") {
	case 1:
		p.wheels = kin.LeftWheel
	case 2:
		p.wheels = kin.RightWheel
	case 3:
		p.rolls = true
		p.at.Roll = rapid.Float64Range(-2.5, 2.5).Draw(t, "roll") * deg
	}
	switch {
	case p.rolls:
		p.at.Wheel, p.at.Rack = p.at.Wheel/4, p.at.Rack/2
	case p.wheels != kin.BothWheels:
		p.at.Wheel, p.at.Rack = p.at.Wheel/2, p.at.Rack/2
	}
	return p
}

// stand carries the points that slopes are probed with: values that no derivative of kin goes into.
type stand struct {
	value   map[string]float64
	contact r3.Vec
	carried func(r3.Vec) r3.Vec // a point of the carrier, given where it was at design
	back    func(r3.Vec) r3.Vec // the other way
}

// takeStand measures a position by values alone.
func takeStand(c *corner, z, rack float64) stand {
	s := stand{value: map[string]float64{}}
	var names []string
	for _, col := range c.columns() {
		if !kin.IsSlope(col.Measure) || col.Measure.Name == "installation_ratio" {
			names = append(names, col.Name)
		}
	}
	for i, v := range c.one(z, rack, names...) {
		s.value[names[i]] = v
	}
	centre := c.link.Points[c.link.Wheel.Centre].At
	pt, r := c.s.Pose()
	s.carried = func(q r3.Vec) r3.Vec {
		u := r3.Sub(q, centre)
		return r3.Add(pt, r3.Vec{X: r[0]*u.X + r[1]*u.Y + r[2]*u.Z, Y: r[3]*u.X + r[4]*u.Y + r[5]*u.Z, Z: r[6]*u.X + r[7]*u.Y + r[8]*u.Z})
	}
	s.back = func(q r3.Vec) r3.Vec {
		u := r3.Sub(q, pt)
		return r3.Add(centre, r3.Vec{X: r[0]*u.X + r[3]*u.Y + r[6]*u.Z, Y: r[1]*u.X + r[4]*u.Y + r[7]*u.Z, Z: r[2]*u.X + r[5]*u.Y + r[8]*u.Z})
	}
	s.contact = r3.Vec{X: s.value["contact_x"], Y: s.value["contact_y"], Z: s.value["contact_z"]}
	return s
}

// course is a corner about one place of its travel, as a function of wheel travel.
type course struct {
	c     *corner
	z     float64
	rack  float64
	stand map[float64]stand
}

func (k *course) at(z float64) stand {
	if k.stand == nil {
		k.stand = map[float64]stand{}
	}
	if s, ok := k.stand[z]; ok {
		return s
	}
	s := takeStand(k.c, z, k.rack)
	k.stand[z] = s
	return s
}

// slope takes the surest of three steps: near a dead centre a long one sees another curve.
func (k *course) slope(f func(s stand) float64) float64 {
	best, least := 0., math.Inf(1)
	for _, step := range []float64{4, 1, 0.25} {
		v, doubt := kintest.Slope(func(z float64) float64 { return f(k.at(z)) }, k.z, step)
		if doubt < least {
			best, least = v, doubt
		}
	}
	return best
}

func (k *course) of(name string) float64 {
	return k.slope(func(s stand) float64 { return s.value[name] })
}

// velocity of the carrier's own point that stands at q now.
func (k *course) velocity(q r3.Vec) r3.Vec {
	design := k.at(k.z).back(q)
	return r3.Vec{
		X: k.slope(func(s stand) float64 { return s.carried(design).X }),
		Y: k.slope(func(s stand) float64 { return s.carried(design).Y }),
		Z: k.slope(func(s stand) float64 { return s.carried(design).Z }),
	}
}

// front returns the instant centre in the contact's transverse plane relative to the contact, by the
// velocities of two points of the carrier in it: the normals to them meet there.
func (k *course) arm(along r3.Vec) float64 {
	q := k.at(k.z).contact
	v := k.velocity(q)
	far := k.velocity(r3.Add(q, r3.Scale(100, along)))
	// The vertical velocity is 0 where along the line it has fallen by all of v.Z.
	return -100 * v.Z / (far.Z - v.Z)
}

// probes returns what each slope measure must be, by differences of values. Every slope of the table has one.
var probes = map[string]func(k, opposite *course, member string) float64{
	"camber_gain":    func(k, _ *course, _ string) float64 { return k.of("camber") },
	"bump_steer":     func(k, _ *course, _ string) float64 { return k.of("toe") },
	"caster_gain":    func(k, _ *course, _ string) float64 { return k.of("caster") },
	"contact_path_y": func(k, _ *course, _ string) float64 { return k.of("contact_y") / k.of("contact_z") },
	"contact_path_x": func(k, _ *course, _ string) float64 { return k.of("contact_x") / k.of("contact_z") },
	"front_view_swing_arm": func(k, _ *course, _ string) float64 {
		return k.arm(r3.Vec{Y: -1})
	},
	"side_view_swing_arm": func(k, _ *course, _ string) float64 { return k.arm(r3.Vec{X: 1}) },
	"roll_centre_height": func(k, o *course, _ string) float64 {
		_, h := rollCentre(k, o)
		return h
	},
	"roll_centre_lateral": func(k, o *course, _ string) float64 {
		l, _ := rollCentre(k, o)
		return l
	},
	"installation_ratio": func(k, _ *course, m string) float64 { return -k.of(m + ".length") },
	"progression":        func(k, _ *course, m string) float64 { return k.of(m + ".installation_ratio") },
}

// rollCentre cuts the two lines from the contacts square to the velocities of the carriers' points there,
// in the axes of the ground through both contacts, whose origin is their middle.
func rollCentre(k, o *course) (lateral, height float64) {
	ql, qr := k.at(k.z).contact, o.at(o.z).contact
	vl, vr := k.velocity(ql), o.velocity(qr)
	qr.Y, vr.Y = -qr.Y, -vr.Y
	// (p − q)·v = 0 for both: two equations for p in (y, z).
	a, b := r3.Vec{Y: vl.Y, Z: vl.Z}, r3.Vec{Y: vr.Y, Z: vr.Z}
	ra, rb := a.Y*ql.Y+a.Z*ql.Z, b.Y*qr.Y+b.Z*qr.Z
	det := a.Y*b.Z - a.Z*b.Y
	y, z := (ra*b.Z-a.Z*rb)/det, (a.Y*rb-ra*b.Y)/det
	ground := r3.Unit(r3.Vec{Y: ql.Y - qr.Y, Z: ql.Z - qr.Z})
	y, z = y-(ql.Y+qr.Y)/2, z-(ql.Z+qr.Z)/2
	return y*ground.Y + z*ground.Z, z*ground.Y - y*ground.Z
}

func TestSlopesAreProbed(t *testing.T) {
	for _, m := range kin.Measures() {
		if _, ok := probes[m.Name]; kin.IsSlope(&m) && !ok {
			t.Errorf("%s is made of derivatives and has no probe", m.Name)
		}
	}
}

// TestSlopes compares every slope measure of random corners with differences.
func TestSlopes(t *testing.T) {
	seen := map[string]int{}
	forLayouts(t, func(t *rapid.T, l *kin.Linkage) {
		c := newCorner(t, l)
		p := drawPosition(t)
		k, o := &course{c: c, z: p.Wheel, rack: p.Rack}, &course{c: c, z: p.Wheel, rack: -p.Rack}
		for _, col := range c.columns() {
			if !kin.IsSlope(col.Measure) {
				continue
			}
			got := c.get(p.Wheel, p.Rack, col.Name)
			if math.IsNaN(got) {
				continue // far away
			}
			want := probes[col.Measure.Name](k, o, col.Member)
			scale := math.Max(math.Abs(want), col.Measure.Scale)
			if far(col.Measure.Name) {
				// A distance that is the quotient of a small slope: as exact as the slope itself.
				scale = math.Max(scale, want*want/1e5)
			}
			near(t, col.Name, got, want, 1e-6*scale)
			seen[col.Measure.Name]++
		}
	})
	for name := range probes {
		if seen[name] == 0 {
			t.Errorf("%s was never probed", name)
		}
	}
}

func far(name string) bool {
	return name == "front_view_swing_arm" || name == "side_view_swing_arm" || name == "roll_centre_lateral"
}
