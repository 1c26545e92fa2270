package kin_test

import (
	"math"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"

	"gonum.org/v1/gonum/spatial/r3"
)

// Six links from the ground to one body that it can be put together on in 40 ways: P. Dietmaier, "The Stewart-Gough platform
// of general geometry can have 40 real postures", Advances in Robot Kinematics: Analysis and Control (Lenarčič and Husty,
// editors), Kluwer 1998. The points and lengths were recovered from a public copy of the polynomial system; they agree with
// the paper's table from memory. 30 of the 40 poses follow, found outside this project by two million starts in extended
// precision, which found 40 and no more.
//
// Five of the links leave the body one freedom, as five links leave an upright; the sixth is a length that is
// looked at along the way. The unit of the paper is 300 mm here.
const dietmaierUnit = 300

var dietmaierLinks = [6]struct {
	ground, body r3.Vec
	length       float64
}{
	{r3.Vec{}, r3.Vec{}, 1.000000},
	{r3.Vec{X: 1.107915}, r3.Vec{X: 0.542805}, 0.645275},
	{r3.Vec{X: 0.549094, Y: 0.756063}, r3.Vec{X: 0.956919, Y: -0.528915}, 1.086284},
	{r3.Vec{X: 0.735077, Y: -0.223935, Z: 0.525991}, r3.Vec{X: 0.665885, Y: -0.353482, Z: 1.402538}, 1.503439},
	{r3.Vec{X: 0.514188, Y: -0.526063, Z: -0.368418}, r3.Vec{X: 0.478359, Y: 1.158742, Z: 0.107672}, 1.281933},
	{r3.Vec{X: 0.590473, Y: 0.094733, Z: -0.205018}, r3.Vec{X: -0.137087, Y: -0.235121, Z: 0.353913}, 0.771071},
}

// dietmaierPoses: the place of the body's origin and the unit quaternion (w, x, y, z) that turns it to the ground.
var dietmaierPoses = [][7]float64{
	{0.4421986592, -0.7134944027, -0.5434943267, 0.4720581988, -0.7711779574, -0.3567410413, -0.2349073102},
	{0.4430375409, -0.5586207959, -0.7011850995, 0.5118950510, -0.7016469021, -0.3754621914, -0.3235478703},
	{0.4587341746, -0.3734827412, -0.8062714178, 0.5398129295, -0.6269228031, -0.3848361319, -0.4092321489},
	{0.4846116162, -0.8739347472, -0.0372778636, 0.3276210956, -0.9051944930, -0.2692867787, -0.0277845004},
	{0.4854811067, -0.2008162594, -0.8508706864, 0.5539547702, -0.5578936781, -0.3869730334, -0.4818097425},
	{0.4891221742, 0.6962299580, -0.5253792385, 0.5589234044, 0.7590728918, -0.2778431467, 0.1849761032},
	{0.5340032067, 0.0061734463, -0.8454599126, 0.5582471988, -0.4692585469, -0.3831693542, -0.5668665868},
	{0.5350598052, -0.7495961116, -0.3896365927, 0.3676409978, -0.7089194923, -0.5109092598, -0.3181901608},
	{0.5398484183, 0.6788404026, 0.4977342596, 0.2205351669, 0.9422360565, -0.2425961331, -0.0685752885},
	{0.6361117806, 0.7714519604, 0.0149557798, 0.5116908851, 0.6634530832, -0.0088801712, -0.5458237692},
	{0.6675320539, 0.7383170849, -0.0963786238, 0.0411240605, -0.6008228592, 0.7283800182, -0.3267770687},
	{0.6797963045, 0.3480607006, -0.6455468481, 0.5221409092, -0.2627802684, -0.3591962176, -0.7275255863},
	{0.7079629825, 0.6858684194, -0.1684426512, 0.1459056134, -0.5329084220, 0.7342995769, -0.3943656896},
	{0.7191312268, 0.6338825371, -0.2846808875, 0.2596313552, -0.4982143905, 0.6859952131, -0.4623684117},
	{0.7811003859, 0.0687982302, -0.6206037309, 0.3274746534, 0.3492234361, -0.7199793636, 0.5024271678},
	{0.8250801746, -0.3189256345, 0.4664001984, 0.0261625406, 0.6075858635, -0.2194491143, -0.7628872959},
	{0.8322846509, -0.2827517619, 0.4768162130, 0.0688899623, -0.5511471983, 0.3366224365, 0.7603790332},
	{0.8543762432, -0.2942029511, 0.4283524934, 0.1720119642, -0.4626765831, 0.4217088926, 0.7605944212},
	{0.8633257141, 0.0056440281, -0.5046155529, 0.6745060490, 0.3750809990, 0.1444469095, 0.6192664405},
	{0.8700775045, -0.4511219999, -0.1986305047, 0.0408831000, 0.6686851514, -0.0608605390, 0.7399221143},
	{0.8913748581, -0.0798270404, -0.4461821443, 0.3109847321, 0.1300440757, -0.7804913248, 0.5265076701},
	{0.9177780907, -0.1111761819, 0.3812128446, 0.4915078736, -0.5551325486, -0.5680154666, 0.3572202309},
	{0.9558680378, -0.0469956297, -0.2900132842, 0.6895399800, 0.0656463048, 0.1946339577, 0.6945090360},
	{0.9580982053, -0.2840386837, -0.0370115532, 0.0146677453, -0.6117730436, 0.0214989030, -0.7906050832},
	{0.9891322916, 0.1166713363, 0.0894712750, 0.6913258887, -0.3498062554, -0.2162962199, 0.5940707404},
	{0.9916134771, -0.1270160316, 0.0238671281, 0.1153717277, -0.5549253512, -0.0238429455, -0.8235160794},
	{0.9935772798, 0.0796654860, -0.0803591898, 0.7136927942, -0.1832397574, 0.0159326731, 0.6758786405},
	{0.9953675899, -0.0511993246, 0.0813756108, 0.0938718560, -0.1379768558, -0.8626770604, 0.4774293156},
	{0.9985231846, 0.0311963445, 0.0444773871, 0.0740041613, 0.1034391502, 0.8374828247, -0.5314567195},
	{0.9989012017, -0.0415643208, -0.0216517073, 0.2587373763, 0.2211333799, 0.6772234997, -0.6523214927},
}

// hexapod is a body on the first five links, with some of its points: the six ends and the corners of a cube, from
// which the wheel centre is chosen.
type hexapod struct {
	c       *corner
	at      [14]r3.Vec // now, mm
	driving int        // the point that is the wheel centre
}

func newHexapod(t *testing.T, pose [7]float64) *hexapod {
	h := &hexapod{driving: 6}
	for i := range h.at {
		h.at[i] = r3.Scale(dietmaierUnit, placed(pose, bodyPoint(i)))
	}
	b := &kintest.Builder{}
	for i := range h.at {
		b.Point(string(rune('a'+i)), h.at[i].X, h.at[i].Y, h.at[i].Z)
	}
	for i, l := range dietmaierLinks {
		g := r3.Scale(dietmaierUnit, l.ground)
		b.Point(string(rune('A'+i)), g.X, g.Y, g.Z)
		if i < 5 {
			b.Link("link"+string(rune('1'+i)), string(rune('A'+i)), string(rune('a'+i)), kin.Frame, kin.Upright)
		} else {
			b.Member("sixth", kin.Distance, []string{"F", "f"}, []string{kin.Frame, kin.Upright})
		}
	}
	b.Point("centre", h.at[6].X, h.at[6].Y, h.at[6].Z).Wheel("centre", 0, 0, 300)
	h.c = newCorner(t, &b.L)
	return h
}

func bodyPoint(i int) r3.Vec {
	if i < 6 {
		return dietmaierLinks[i].body
	}
	corner := func(bit int) float64 { return 1.5*float64((i-6)>>bit&1) - 0.75 }
	return r3.Vec{X: corner(0), Y: corner(1), Z: corner(2)}
}

// placed carries a point of the body to where a pose has it.
func placed(pose [7]float64, q r3.Vec) r3.Vec {
	u := r3.Vec{X: pose[4], Y: pose[5], Z: pose[6]}
	t := r3.Scale(2, r3.Cross(u, q))
	return r3.Add(r3.Vec{X: pose[0], Y: pose[1], Z: pose[2]}, r3.Add(q, r3.Add(r3.Scale(pose[3], t), r3.Cross(u, t))))
}

// redraw makes where the body stands its design.
func (h *hexapod) redraw() {
	h.c.t.Helper()
	points := h.c.prog.Points()
	copy(points, h.at[:])
	points[len(points)-1] = h.at[h.driving]
	for i, p := range points {
		h.c.link.Points[i].At = p
	}
	if f := h.c.s.SetDesign(points); f.Status != kin.OK {
		h.c.t.Fatalf("redrawn: %s", h.c.prog.Describe(f))
	}
}

// up moves the wheel centre up from design, and tells where everything stands then.
func (h *hexapod) up(by float64) (at [14]r3.Vec, sixth float64) {
	h.c.t.Helper()
	sixth = h.c.get(by, 0, "sixth.length")
	for i := range at {
		at[i] = h.c.carried(h.at[i])
	}
	return at, sixth
}

// residual is the greatest error of the first n links' lengths, mm.
func residual(at [14]r3.Vec, n int) (worst float64) {
	for i, l := range dietmaierLinks[:n] {
		worst = math.Max(worst, math.Abs(r3.Norm(r3.Sub(at[i], r3.Scale(dietmaierUnit, l.ground)))-dietmaierUnit*l.length))
	}
	return worst
}

// TestDietmaierPoses: every listed pose is a root, to the digits given; from a little further along the five links'
// curve, on either side, the way back ends in it; and the sixth link's length is passed there.
func TestDietmaierPoses(t *testing.T) {
	for n, pose := range dietmaierPoses {
		h := newHexapod(t, pose)
		h.steer(r3.Vec{}, r3.Vec{})
		home := h.at
		near(t, "lengths", residual(home, 6), 0, 1e-6)
		var sixth [2]float64
		for k, by := range []float64{0.5, -0.5} {
			h.at = home
			h.redraw()
			at, length := h.up(by)
			sixth[k] = length
			h.at = at
			h.redraw()
			back, length := h.up(-by)
			near(t, "sixth length at the pose", length, dietmaierUnit*dietmaierLinks[5].length, 1e-6)
			for i := range back {
				near(t, "back at the pose", r3.Norm(r3.Sub(back[i], home[i])), 0, 1e-6)
			}
			near(t, "five lengths on the way", residual(at, 5), 0, 1e-6)
		}
		if want := dietmaierUnit * dietmaierLinks[5].length; (sixth[0]-want)*(sixth[1]-want) >= 0 {
			t.Errorf("pose %d: the sixth length %g is not passed between %g and %g", n, want, sixth[0], sixth[1])
		}
	}
}

// steer makes the point that rises or falls fastest the wheel centre, and returns the body's velocity for 1 mm of its
// travel in the direction in which v0 and w0 went, and the travel with which no point goes farther than 3 mm.
func (h *hexapod) steer(v0, w0 r3.Vec) (v, w r3.Vec, by float64) {
	h.c.t.Helper()
	h.redraw()
	h.c.get(0, 0, "wheel_travel")
	v, w, _, _ = h.c.s.Twist()
	best, most, fast := h.driving, 1., 1.
	for i := range h.at {
		u := r3.Add(v, r3.Cross(w, r3.Sub(h.at[i], h.at[h.driving])))
		fast = math.Max(fast, r3.Norm(u))
		if math.Abs(u.Z) > 1.5*most {
			best, most = i, math.Abs(u.Z)
		}
	}
	if best != h.driving {
		h.driving = best
		return h.steer(v0, w0)
	}
	// Velocities compared at the body's origin.
	v = r3.Add(v, r3.Cross(w, r3.Sub(h.at[0], h.at[h.driving])))
	by = 3 / fast
	if r3.Dot(v, v0)+dietmaierUnit*dietmaierUnit*r3.Dot(w, w0) < 0 {
		by = -by
		v, w = r3.Scale(-1, v), r3.Scale(-1, w)
	}
	return v, w, by
}

// TestDietmaierCurves follows the five links' curve from the listed poses until it comes back, and notes where the
// sixth length is passed: at every listed pose and at ten others, 40 in all. What the steps leave of error in the
// lengths adds up along some ten metres of way.
func TestDietmaierCurves(t *testing.T) {
	want := dietmaierUnit * dietmaierLinks[5].length
	alike := func(a, b [14]r3.Vec) bool {
		return r3.Norm(r3.Sub(a[6], b[6])) < 0.1 && r3.Norm(r3.Sub(a[9], b[9])) < 0.1 && r3.Norm(r3.Sub(a[12], b[12])) < 0.1
	}
	var found [][14]r3.Vec
	known := func(at [14]r3.Vec) bool {
		return slices.ContainsFunc(found, func(f [14]r3.Vec) bool { return alike(f, at) })
	}
	for n, pose := range dietmaierPoses {
		h := newHexapod(t, pose)
		if known(h.at) {
			continue // another pose's curve has been here
		}
		start, v, w := h.at, r3.Vec{}, r3.Vec{}
		passed, closed := 0, false
		for step := 0; step < 20000 && !closed; step++ {
			var by float64
			v, w, by = h.steer(v, w)
			for !h.c.reaches(by, 0) {
				by /= 2
			}
			_, before := h.up(0)
			at, after := h.up(by)
			if step > 0 && (before-want)*(after-want) <= 0 {
				passing := h.pass(0, by, before, want)
				passed++
				if !known(passing) {
					found = append(found, passing)
				}
				closed = alike(passing, start)
			}
			h.at = at
		}
		if !closed || passed%2 != 0 {
			t.Errorf("the curve from pose %d passes the length %d times; it closes: %t", n, passed, closed)
		}
	}
	if len(found) != 40 {
		t.Errorf("%d poses where there are 40", len(found))
	}
}

// pass finds where between two travels the sixth link has its length.
func (h *hexapod) pass(lo, hi, before, want float64) [14]r3.Vec {
	for range 50 {
		mid := (lo + hi) / 2
		if _, l := h.up(mid); (l-want)*(before-want) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	at, _ := h.up(hi)
	near(h.c.t, "lengths where the sixth is passed", residual(at, 6), 0, 1e-4)
	return at
}
