package kin_test

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"

	"trammel/kin"
	"trammel/kin/kintest"
)

// lacking returns a linkage without some members.
func lacking(l *kin.Linkage, names ...string) *kin.Linkage {
	l.Members = slices.DeleteFunc(l.Members, func(m kin.Member) bool { return slices.Contains(names, m.Name) })
	return l
}

// also returns a linkage with a link more, between points that it has.
func also(l *kin.Linkage, name, from, to, bodyFrom, bodyTo string) *kin.Linkage {
	index := func(name string) int {
		return slices.IndexFunc(l.Points, func(p kin.Point) bool { return p.Name == name })
	}
	l.Members = append(l.Members, kin.Member{Name: name, Kind: kin.Link, Points: []int{index(from), index(to)}, Bodies: []string{bodyFrom, bodyTo}})
	return l
}

// stiff returns a linkage none of whose links is soft.
func stiff(l *kin.Linkage) *kin.Linkage {
	for i := range l.Members {
		l.Members[i].Soft = false
	}
	return l
}

// shifted returns a linkage with a point elsewhere.
func shifted(l *kin.Linkage, point string, to r3.Vec) *kin.Linkage {
	for i := range l.Points {
		if l.Points[i].Name == point {
			l.Points[i].At = to
		}
	}
	return l
}

func fiveLinkCorner() *kin.Linkage {
	for _, ly := range kintest.Layouts() {
		if ly.Name == "five links" {
			return ly.Link
		}
	}
	panic("no five links")
}

// apartArms draws an H-arm as two wishbones, the second ball so far off the plane of the axis and the first.
func apartArms(off float64) *kin.Linkage {
	b := &kintest.Builder{}
	b.Point("lower_front", 210, 210, 160).Point("lower_rear", -160, 210, 160).
		Point("ball_front", 120, 640, 150).Point("ball_rear", -110, 640, 150+off).
		Point("upper_inner", -20, 280, 330).Point("upper_outer", -10, 610, 350).Point("wheel_centre", 0, 700, 256)
	b.Arm("front_arm", "lower_front", "lower_rear", "ball_front").Arm("rear_arm", "lower_front", "lower_rear", "ball_rear")
	b.Link("upper_link", "upper_inner", "upper_outer", kin.Frame, kin.Upright)
	b.Wheel("wheel_centre", 0, 0, 250)
	return &b.L
}

// crossLinks holds an upright by five lateral links of one length, in a plane or all over.
func crossLinks() *kin.Linkage {
	b := &kintest.Builder{}
	for i, at := range [][2]float64{{150, 140}, {-150, 140}, {120, 340}, {-120, 340}, {10, 240}} {
		n := strconv.Itoa(i + 1)
		b.Point("p"+n, at[0], 250, at[1]).Point("q"+n, at[0], 640, at[1])
		b.Link("link"+n, "p"+n, "q"+n, kin.Frame, kin.Upright)
	}
	b.Point("wheel_centre", 0, 700, 250).Wheel("wheel_centre", 0, 0, 250)
	return &b.L
}

// spindleLinks holds an upright by five links whose lines all meet the lateral line through the wheel's centre.
func spindleLinks() *kin.Linkage {
	b := &kintest.Builder{}
	for i, q := range []struct {
		meets float64 // y on the line
		from  r3.Vec
	}{
		{600, r3.Vec{X: 300, Y: 250, Z: 120}}, {600, r3.Vec{X: -260, Y: 240, Z: 140}}, {760, r3.Vec{X: 40, Y: 230, Z: 400}},
		{650, r3.Vec{X: -300, Y: 280, Z: 380}}, {720, r3.Vec{X: 320, Y: 300, Z: 350}},
	} {
		n := strconv.Itoa(i + 1)
		on := r3.Vec{Y: q.meets, Z: 250}
		end := r3.Add(q.from, r3.Scale(0.9, r3.Sub(on, q.from)))
		b.Point("p"+n, q.from.X, q.from.Y, q.from.Z).Point("q"+n, end.X, end.Y, end.Z)
		b.Link("link"+n, "p"+n, "q"+n, kin.Frame, kin.Upright)
	}
	b.Point("wheel_centre", 0, 700, 250).Wheel("wheel_centre", 0, 0, 250)
	return &b.L
}

// twoBalls holds an upright by two ball joints: a hinge with a constraint too many.
func twoBalls() *kin.Linkage {
	b := &kintest.Builder{}
	b.Point("inner", 400, 200, 230).Point("outer", 380, 560, 230).Point("wheel_centre", 0, 700, 250).Wheel("wheel_centre", 0, 0, 250)
	b.Member("ball_in", kin.Ball, []string{"inner"}, []string{kin.Frame, kin.Upright})
	b.Member("ball_out", kin.Ball, []string{"outer"}, []string{kin.Frame, kin.Upright})
	return &b.L
}

// straightAxle is a beam axle on two pairs of parallel links, without a Panhard rod or with one.
func straightAxle(panhard bool) *kin.Linkage {
	b := &kintest.Builder{}
	b.Point("lower_frame", 620, 440, 300).Point("lower_axle", 20, 440, 300).
		Point("upper_frame", 620, 440, 470).Point("upper_axle", 20, 440, 470).
		Point("panhard_frame", -110, 430, 400).Point("panhard_axle", -120, -470, 400).
		Point("wheel_centre", 0, 760, 390)
	b.Link("lower_link", "lower_frame", "lower_axle", kin.Frame, kin.Axle)
	b.Link("upper_link", "upper_frame", "upper_axle", kin.Frame, kin.Axle)
	if panhard {
		b.Across("panhard", kin.Link, []string{"panhard_frame", "panhard_axle"}, []string{kin.Frame, kin.Axle})
	}
	b.Wheel("wheel_centre", 0, 0, 400)
	return &b.L
}

// TestCountsAreExplained: what a wrong count holds twice, or leaves free, by elementary mechanics of rigid bodies; the
// sentence is the end of Compile's error.
func TestCountsAreExplained(t *testing.T) {
	const gives = "an H-arm 4, a hinge 5; "
	soft := func(name string) string {
		return "; if it lives on its bushes, mark a link soft (" + name + ": {..., soft: true}), and its bind is measured"
	}
	cases := []struct {
		what string
		link *kin.Linkage
		says string
	}{
		{"two wishbones steer about the line of their balls", lacking(kintest.Pushrod(), "tie_rod"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn in steer about the line through lower_ball and upper_ball"},
		{"a strut steers about the line of its top and the ball", lacking(kintest.Strut(), "tie_rod"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn in steer about the line through lower_ball and top"},
		{"a strut without its arm swings in its top; the low tie rod keeps camber", lacking(kintest.Strut(), "lower_arm"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn in pitch and in steer about top"},
		{"the tie rod keeps steer", lacking(kintest.Pushrod(), "upper_arm"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn in camber and in pitch about lower_ball"},
		{"a wishbone's ball turns every way", lacking(kintest.Pushrod(), "upper_arm", "tie_rod"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn every way about lower_ball"},
		{"one lateral link of two", lacking(kintest.TrailingArm(), "upper_link"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn in camber about an axis through arm_front"},
		{"no lateral link", lacking(kintest.TrailingArm(), "upper_link", "lower_link"),
			gives + "at design the upright is still free, beside its wheel's travel, to turn in camber and in steer about arm_front"},
		{"an axle without its Panhard rod", lacking(kintest.ThreeLink(), "panhard"),
			"a ball joint 3; at design the axle is still free, beside the travel of its two wheels, to shift sideways"},
		{"an axle without its upper link", lacking(kintest.ThreeLink(), "upper_link"),
			"a ball joint 3; at design the axle is still free, beside the travel of its two wheels, to turn in pitch"},
		{"an axle on its lower links alone", lacking(kintest.ThreeLink(), "upper_link", "panhard"),
			"a ball joint 3; at design the axle is still free, beside the travel of its two wheels, to turn in pitch and to shift sideways"},
		{"a steered axle without its Panhard rod", lacking(kintest.SteeredAxle(), "panhard"),
			"a ball joint 3; at design the axle is still free, beside the travel of its two wheels, to shift sideways"},
		{"two links of five are parallel, and one is away", lacking(crossLinks(), "link5"),
			gives + "at design link1, link2, link3 and link4 work against the same freedom, and the upright is still free, beside its wheel's travel, to turn in pitch and to shift fore and aft"},
		{"nothing holds it: there is nothing to look at", lacking(fiveLinkCorner(), "link1", "link2", "link3", "link4", "link5"),
			"no member holds it; an arm gives 2, a link from frame or rack gives 1, a strut 2, a ball joint 3, an H-arm 4, a hinge 5"},

		{"a triangulated four-link axle with a Panhard rod", stiff(kintest.FourLink()),
			"a ball joint 3; at design left.lower_link, left.upper_link, right.lower_link, right.upper_link and panhard lock roll; panhard could let go" + soft("panhard")},
		{"parallel links do without the Panhard rod, but it does not do without them", straightAxle(true),
			"a ball joint 3; at design left.lower_link, left.upper_link, right.lower_link and right.upper_link work against the same freedom; " +
				"one side's lower_link or upper_link could let go: drawn apart from the other side's, across, it can be marked soft"},
		{"two ball joints both hold their distance", twoBalls(),
			gives + "at design ball_in and ball_out work against the same freedom"},
		{"two tie rods", also(kintest.Pushrod(), "second", "rack_end", "steering_arm", kin.Rack, kin.Upright),
			gives + "at design tie_rod and second work against the same freedom; either tie_rod or second could let go" + soft("second")},
		{"a stay on a hinge", also(kintest.Hinge(), "stay", "spring_foot", "spring_top", kin.Upright, kin.Frame),
			gives + "at design semi and stay hold the wheel's height as well, so that it cannot travel; stay could let go" + soft("stay")},
		{"a link too many, and the links that it locks with", also(fiveLinkCorner(), "extra", "p1", "q3", kin.Frame, kin.Upright),
			gives + "at design link1, link2, link3 and extra hold the wheel's height as well, so that it cannot travel; any one of link1, link2, link3 or extra could let go" + soft("extra")},
		{"a stay to the rack is no better: what does not steer is soft", also(kintest.Pushrod(), "stay", "rack_end", "upper_ball", kin.Rack, kin.Upright),
			gives + "at design lower_arm, upper_arm and stay hold the wheel's height as well, so that it cannot travel; stay could let go" + soft("stay")},
	}
	for _, tc := range cases {
		_, err := kin.Compile(tc.link)
		if err == nil || !strings.HasSuffix(err.Error(), tc.says) {
			t.Errorf("%s: got  %v\nwant ...%s", tc.what, err, tc.says)
		}
	}
}

// TestSingularDesignsAreExplained: the right count, held in the wrong way.
func TestSingularDesignsAreExplained(t *testing.T) {
	upright := kintest.Hinge()
	shifted(upright, "outer", r3.Add(at(upright, "inner"), r3.Vec{Z: 100}))
	doubled := fiveLinkCorner()
	shifted(shifted(doubled, "p4", at(doubled, "p3")), "q4", at(doubled, "q3"))
	oneSide := kintest.Apart()
	shifted(oneSide, "opposite.upper_ball", r3.Add(at(oneSide, "lower_ball"), r3.Vec{Y: -2 * at(oneSide, "lower_ball").Y}))
	otherSide := *oneSide
	otherSide.Right = true
	cases := []struct {
		what string
		link *kin.Linkage
		says string
	}{
		{"an H-arm drawn as two wishbones: rank 3 where 4 are counted", apartArms(0),
			"at design front_arm and rear_arm work against the same freedom, and the upright is still free, beside its wheel's travel, to turn in pitch about an axis through ball_rear"},
		{"two links in one place", doubled,
			"at design link3 and link4 work against the same freedom, and the upright is still free, beside its wheel's travel, to turn in pitch"},
		{"parallel links hold no shift along and no turn about what is square to them: three freedoms of five", crossLinks(),
			"at design link1, link2, link3, link4 and link5 work against the same freedoms: 2 of their constraints hold nothing new, " +
				"and the upright is still free, beside its wheel's travel, to turn in pitch and to shift fore and aft"},
		// Lines that all meet one line do not hold a turn about it: J.-P. Merlet, "Singular configurations of parallel
		// manipulators and Grassmann geometry", Int. J. Robotics Research 8(5), 1989 (from memory).
		{"five links and the wheel's height meet the spin axis", spindleLinks(),
			"at design link1, link2, link3, link4 and link5 hold the wheel's height as well, so that it cannot travel, but the upright is free to turn in pitch"},
		{"four parallel links and no Panhard rod", straightAxle(false),
			"at design left.lower_link, left.upper_link, right.lower_link and right.upper_link work against the same freedom, " +
				"and the axle is still free, beside the travel of its two wheels, to shift sideways"},
		{"an arm about an upright line steers and does not lift", upright,
			"at design semi holds the wheel's height as well, so that it cannot travel, but the upright is free to turn in steer about the line through inner and outer"},
		{"both balls in one place, on one side", oneSide,
			"on the right, at design lower_arm and upper_arm work against the same freedom, and the upright is still free, beside its wheel's travel, to turn in pitch about an axis through lower_ball"},
		{"the same of a file that draws the right", &otherSide,
			"on the left, at design lower_arm and upper_arm work against the same freedom, and the upright is still free, beside its wheel's travel, to turn in pitch about an axis through lower_ball"},
		{"an H-arm drawn as two wishbones, a millimetre off", apartArms(1),
			"at design front_arm and rear_arm nearly work against the same freedom, and the upright is nearly free, beside its wheel's travel, " +
				"to turn in pitch, where an error in one of their lengths comes out about 150 times as large"},
	}
	for _, tc := range cases {
		prog, err := kin.Compile(tc.link)
		if err != nil {
			t.Errorf("%s: %v", tc.what, err)
			continue
		}
		if got := prog.Explain(prog.Points()); got != tc.says {
			t.Errorf("%s: got  %s\nwant %s", tc.what, got, tc.says)
		}
		refused := prog.NewState().SetDesign(prog.Points()).Status == kin.BadGeometry
		if near := strings.Contains(tc.says, "nearly"); near == refused {
			t.Errorf("%s: refused is %t", tc.what, refused)
		}
		if c := prog.Condition(prog.Points()); refused != math.IsInf(c, 1) {
			t.Errorf("%s: condition %g", tc.what, c)
		}
	}
}

// TestGrowth: by how much an error grows in a nearly singular design is seen when an arm is made wrong at its ball, which
// takes it along or across by the error itself.
func TestGrowth(t *testing.T) {
	l := apartArms(0.4)
	c := newCorner(t, l)
	said := regexp.MustCompile(`about (\d+) times`).FindStringSubmatch(c.prog.Explain(c.prog.Points()))
	if said == nil {
		t.Fatal(c.prog.Explain(c.prog.Points()))
	}
	want, _ := strconv.ParseFloat(said[1], 64)
	most := 0.0
	const step = 1e-6
	for i, q := range c.prog.PartPoints() {
		if !strings.HasSuffix(q.Owner, "_arm") || !strings.HasPrefix(l.Points[q.Point].Name, "ball_") || q.Side != kin.Left {
			continue
		}
		for _, along := range []r3.Vec{{X: step}, {Y: step}, {Z: step}} {
			errors := make([]r3.Vec, len(c.prog.PartPoints()))
			errors[i] = along
			if f := c.s.SetBuild(errors); f.Status != kin.OK {
				t.Fatal(c.prog.Describe(f))
			}
			at, r := c.s.Pose()
			turn := r3.Norm(r3.Vec{X: r[7] - r[5], Y: r[2] - r[6], Z: r[3] - r[1]}) / 2
			most = math.Max(most, math.Hypot(r3.Norm(r3.Sub(at, l.Points[l.Wheel.Centre].At)), 100*turn)/step)
		}
	}
	if math.Abs(most/want-1) > 0.03 {
		t.Errorf("an error comes out %.3g times as large; said %g", most, want)
	}
}

// TestCondition: of five links and the wheel's height, by their Plücker coordinates.
func TestCondition(t *testing.T) {
	l := fiveLinkCorner()
	m := mat.NewDense(6, 6, nil)
	centre := at(l, "wheel_centre")
	for i := range 5 {
		n := strconv.Itoa(i + 1)
		q := at(l, "q"+n)
		u := r3.Unit(r3.Sub(q, at(l, "p"+n)))
		w := r3.Cross(r3.Sub(q, centre), u)
		m.SetRow(i, []float64{u.X, u.Y, u.Z, w.X / 100, w.Y / 100, w.Z / 100})
	}
	m.Set(5, 2, 1)
	prog, err := kin.Compile(l)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "condition", prog.Condition(prog.Points()), mat.Cond(m, 2), 1e-12)
}

// TestSoundDesignsNeedNoWords: nothing is said of linkages that work, nor of points whose member is named otherwise.
func TestSoundDesignsNeedNoWords(t *testing.T) {
	for _, ly := range append(kintest.Layouts(), kintest.Axles()...) {
		prog, err := kin.Compile(ly.Link)
		if err != nil {
			t.Fatal(err)
		}
		rapid.Check(t, func(rt *rapid.T) {
			move := rapid.Float64Range(-4, 4)
			points := prog.Points()
			for i := range points {
				points[i] = r3.Add(points[i], r3.Vec{X: move.Draw(rt, "x"), Y: move.Draw(rt, "y"), Z: move.Draw(rt, "z")})
			}
			if f := prog.NewState().SetDesign(points); f.Status != kin.OK {
				return
			}
			if s, c := prog.Explain(points), prog.Condition(points); s != "" || !(c >= 1 && c < 200) {
				rt.Errorf("%s: condition %g: %s", ly.Name, c, s)
			}
			shift := r3.Vec{X: 10 * move.Draw(rt, "shift x"), Z: 10 * move.Draw(rt, "shift z")}
			before := prog.Condition(points)
			for i := range points {
				points[i] = r3.Add(points[i], shift)
			}
			near(rt, ly.Name+" shifted", prog.Condition(points), before, 1e-6*before)
		})
		points := prog.Points()
		points[0].Y = math.NaN()
		if s, c := prog.Explain(points), prog.Condition(points); s != "" || !math.IsNaN(c) {
			t.Errorf("%s: condition %g: %s", ly.Name, c, s)
		}
	}
}

// TestDoubledLinks: a second link in the place of any link, or nearly so, is found beside it and no other.
func TestDoubledLinks(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := fiveLinkCorner()
		move := rapid.Float64Range(-30, 30)
		for i := range l.Points {
			l.Points[i].At = r3.Add(l.Points[i].At, r3.Vec{X: move.Draw(rt, "x"), Y: move.Draw(rt, "y"), Z: move.Draw(rt, "z")})
		}
		n := strconv.Itoa(rapid.IntRange(1, 4).Draw(rt, "link"))
		also(l, "second", "p"+n, "q"+n, kin.Frame, kin.Upright)
		_, err := kin.Compile(l)
		says := fmt.Sprintf("; at design link%s and second work against the same freedom; either link%s or second could let go; if it lives on its bushes, mark a link soft (second: {..., soft: true}), and its bind is measured", n, n)
		if err == nil || !strings.HasSuffix(err.Error(), says) {
			rt.Errorf("got  %v\nwant ...%s", err, says)
		}
		again, _ := kin.Compile(l)
		if _, twice := kin.Compile(l); again != nil || twice.Error() != err.Error() {
			rt.Errorf("not the same error twice")
		}
	})
}

// drawCoarse draws an upright or an axle on links between places of a coarse grid, where much lines up; often the last
// is where the first is.
func drawCoarse(t *rapid.T) *kin.Linkage {
	b := &kintest.Builder{}
	carrier, across, most := kin.Upright, false, 7
	if rapid.Bool().Draw(t, "axle") {
		carrier, across, most = kin.Axle, true, 5
	}
	b.Point("wheel_centre", 0, 700, 250).Wheel("wheel_centre", 0, 0, 250)
	place := rapid.IntRange(-2, 2)
	for i := range rapid.IntRange(most-2, most).Draw(t, "links") {
		n := strconv.Itoa(i + 1)
		for _, end := range []string{"p", "q"} {
			y := 100 * float64(place.Draw(t, "y"))
			if !across {
				y += map[string]float64{"p": 200, "q": 600}[end]
			}
			b.Point(end+n, 100*float64(place.Draw(t, "x")), y, 250+100*float64(place.Draw(t, "z")))
		}
		if across {
			b.Across("link"+n, kin.Link, []string{"p" + n, "q" + n}, []string{kin.Frame, carrier})
		} else {
			b.Link("link"+n, "p"+n, "q"+n, kin.Frame, carrier)
		}
	}
	if n := len(b.L.Members); rapid.Bool().Draw(t, "twins") {
		b.L.Members[n-1].Points = b.L.Members[0].Points
	}
	return &b.L
}

// TestCoarseDesigns: what is said is whole, and it is said of exactly the designs that are refused without a member's
// name, or that come near to it.
func TestCoarseDesigns(t *testing.T) {
	const some = `link\d(, link\d)*( and link\d)?`
	whole := regexp.MustCompile(`^(; )?at design ((` + some + ` (nearly )?(work against the same freedoms?(: \d of their constraints hold nothing new)?|` +
		`holds nothing there that moves|(holds? the (wheel's height|height of the (left|right) wheel|heights of both wheels) as well, so that (it cannot|neither can) travel` +
		`|locks? (roll|heave)|ties? the travel of one wheel to that of the other)(, and \d of their constraints holds? nothing new)?)(; )?)+` +
		`(, (and|but) )?)?(the (upright|axle) is (still |nearly )?free,? (beside (its wheel's travel|the travel of its two wheels), )?` +
		`to (turn|shift) [a-z0-9 ]+(, where an error in one of their lengths comes out about \d+ times as large)?)?` +
		`(; (any one of |either |)link\d(, link\d)*( or link\d)? could let go; if it lives on its bushes, mark a link soft \(link\d: {..., soft: true}\), and its bind is measured)?$`)
	advice := regexp.MustCompile(`mark a link soft \((link\d)`)
	refused, counted, helped := 0, 0, 0
	coarse := rapid.Custom(drawCoarse)
	for seed := range 300 {
		l := coarse.Example(seed)
		prog, err := kin.Compile(l)
		if err != nil {
			if _, text, ok := strings.Cut(err.Error(), "; at design "); ok {
				counted++
				if text = "at design " + text; !whole.MatchString(text) {
					t.Errorf("seed %d: no sentence: %s", seed, text)
				}
				// With the link soft that it names, nothing is left free that was not free before.
				if name := advice.FindStringSubmatch(text); name != nil && !strings.Contains(text, "free") {
					l.Members[slices.IndexFunc(l.Members, func(m kin.Member) bool { return m.Name == name[1] })].Soft = true
					if prog, err = kin.Compile(l); err == nil {
						helped++
						if c := prog.Condition(prog.Points()); math.IsInf(c, 1) {
							t.Errorf("seed %d: it stays singular without %s: %s", seed, name[1], prog.Explain(prog.Points()))
						}
					}
				}
			}
			continue
		}
		text := prog.Explain(prog.Points())
		f := prog.NewState().SetDesign(prog.Points())
		singular := f.Status == kin.BadGeometry && f.Member < 0
		near := strings.Contains(text, "nearly")
		switch {
		case singular && (text == "" || near):
			t.Errorf("seed %d: it is singular, but: %q (%g)", seed, text, prog.Condition(prog.Points()))
		case f.Status == kin.BadGeometry && !singular && text != "":
			t.Errorf("seed %d: %s, but: %s", seed, prog.Describe(f), text)
		case f.Status == kin.OK && text != "" && !near:
			t.Errorf("seed %d: it assembles, but: %s", seed, text)
		case text != "" && !whole.MatchString(text):
			t.Errorf("seed %d: no sentence: %s", seed, text)
		}
		if singular {
			refused++
		}
	}
	if refused == 0 || counted == 0 || helped == 0 {
		t.Errorf("%d singular designs, %d counts, %d with advice", refused, counted, helped)
	}
}
