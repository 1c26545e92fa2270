package kin_test

import (
	"errors"
	"slices"
	"testing"

	"trammel/kin"
	"trammel/kin/kintest"
)

const (
	gives     = "an arm gives 2, a link from frame or rack gives 1, a strut 2, a ball joint 3, an H-arm 4, a hinge 5"
	axleGives = "a link gives 1, an arm 2, a ball joint 3"
)

// edit is a change to a linkage.
type edit func(l *kin.Linkage)

func drop(names ...string) edit {
	return func(l *kin.Linkage) {
		l.Members = slices.DeleteFunc(slices.Clone(l.Members), func(m kin.Member) bool { return slices.Contains(names, m.Name) })
	}
}

func more(name string, kind kin.Kind, points []int, bodies ...string) edit {
	return func(l *kin.Linkage) {
		l.Members = append(l.Members, kin.Member{Name: name, Kind: kind, Points: points, Bodies: bodies})
	}
}

func across(name string, kind kin.Kind, points []int, sides []kin.Side, bodies ...string) edit {
	return func(l *kin.Linkage) {
		l.Members = append(l.Members, kin.Member{Name: name, Kind: kind, Points: points, Bodies: bodies, Across: true, Sides: sides})
	}
}

func hard(name string) edit {
	return func(l *kin.Linkage) {
		for i := range l.Members {
			if l.Members[i].Name == name {
				l.Members[i].Soft = false
			}
		}
	}
}

func TestCompileRefuses(t *testing.T) {
	const push, five, four, bar = "pushrod on lower arm", "five links", "four parallel links and a soft Panhard rod", "bar and centre spring"
	left, right := kin.Left, kin.Right
	cases := []struct {
		layout string
		change []edit
		says   string
	}{
		// Freedoms left over.
		{push, []edit{drop("tie_rod")},
			"the upright has 4 of the 5 constraints that leave it wheel travel alone, so 1 freedom is too many: it is held by lower_arm 2, upper_arm 2; " + gives +
				"; at design the upright is still free, beside its wheel's travel, to turn in steer about the line through lower_ball and upper_ball"},
		{five, []edit{drop("link4", "link5", "damper")},
			"the upright has 3 of the 5 constraints that leave it wheel travel alone, so 2 freedoms are too many: it is held by link1 1, link2 1, link3 1; " + gives +
				"; at design the upright is still free, beside its wheel's travel, to turn in pitch and in steer"},
		{five, []edit{func(l *kin.Linkage) { l.Members = nil }},
			"the upright has 0 of the 5 constraints that leave it wheel travel alone, so 5 freedoms are too many: no member holds it; " + gives},
		{"strut", []edit{drop("strut")},
			"the upright has 3 of the 5 constraints that leave it wheel travel alone, so 2 freedoms are too many: it is held by lower_arm 2, tie_rod 1; " + gives +
				"; at design the upright is still free, beside its wheel's travel, to turn in camber and in pitch about lower_ball"},
		{"H-arm", []edit{drop("upper_link")},
			"the upright has 4 of the 5 constraints that leave it wheel travel alone, so 1 freedom is too many: it is held by h_arm 4; " + gives +
				"; at design the upright is still free, beside its wheel's travel, to turn in camber about the line through ball_front and ball_rear"},
		{"three-link axle with Panhard rod", []edit{drop("panhard")},
			"the axle has 3 of the 4 constraints that leave it the travel of its two wheels, so 1 freedom is too many: it is held by left.lower_link 1, right.lower_link 1, upper_link 1; " + axleGives +
				"; at design the axle is still free, beside the travel of its two wheels, to shift sideways"},
		// Constraints too many.
		{push, []edit{more("extra", kin.Link, []int{0, 8}, kin.Frame, kin.Upright)},
			"the upright has 6 constraints where 5 leave it wheel travel alone, so 1 constraint is too many: it is held by lower_arm 2, upper_arm 2, tie_rod 1, extra 1; " + gives +
				"; at design lower_arm, upper_arm, tie_rod and extra hold the wheel's height as well, so that it cannot travel; either tie_rod or extra could let go" +
				"; if it lives on its bushes, mark a link soft (extra: {..., soft: true}), and its bind is measured"},
		{five, []edit{more("extra", kin.Link, []int{0, 5}, kin.Frame, kin.Upright), more("again", kin.Link, []int{2, 1}, kin.Upright, kin.Frame)},
			"the upright has 7 constraints where 5 leave it wheel travel alone, so 2 constraints are too many: it is held by link1 1, link2 1, link3 1, link4 1, link5 1, extra 1, again 1; " + gives +
				"; at design link1, link2, link3, link5, extra and again hold the wheel's height as well, so that it cannot travel, and 1 of their constraints holds nothing new" +
				"; any one of link1, link2, link3, link5, extra or again could let go; if it lives on its bushes, mark a link soft (again: {..., soft: true}), and its bind is measured"},
		{"semi-trailing arm", []edit{more("arm", kin.Arm, []int{0, 1, 2}, kin.Frame, kin.Upright)},
			"the upright has 7 constraints where 5 leave it wheel travel alone, so 2 constraints are too many: it is held by semi 5, arm 2; " + gives +
				"; at design semi and arm work against the same freedoms: 2 of their constraints hold nothing new; arm could let go"},
		{four, []edit{hard("panhard")},
			"the axle has 5 constraints where 4 leave it the travel of its two wheels, so 1 constraint is too many: it is held by left.lower_link 1, left.upper_link 1, right.lower_link 1, right.upper_link 1, panhard 1; " + axleGives +
				"; at design left.lower_link, left.upper_link, right.lower_link, right.upper_link and panhard lock roll; panhard could let go" +
				"; if it lives on its bushes, mark a link soft (panhard: {..., soft: true}), and its bind is measured"},
		// One side alone.
		{push, []edit{across("stay", kin.Link, []int{0, 2}, []kin.Side{kin.Once, right}, kin.Frame, "right.upright")},
			"the right upright has 6 constraints where 5 leave it wheel travel alone, so 1 constraint is too many: it is held by lower_arm 2, upper_arm 2, tie_rod 1, stay 1; " + gives +
				"; at design lower_arm and stay work against the same freedom; stay could let go; if it lives on its bushes, mark a link soft (stay: {..., soft: true}), and its bind is measured"},
		// Between the sides.
		{push, []edit{across("tie", kin.Link, []int{2, 2}, []kin.Side{left, right}, "left.upright", "right.upright")},
			"link tie ties the carriers of both sides to each other; only an axle can hold both wheels: mark it soft, or measure it as a distance"},
		{bar, []edit{across("tie", kin.Link, []int{2, 2}, []kin.Side{left, right}, "left.rocker", "right.upright")},
			"link tie ties the carriers of both sides to each other; only an axle can hold both wheels: mark it soft, or measure it as a distance"},
		// What turns and is not turned, what holds nothing, what stands on nothing.
		{push, []edit{drop("pushrod")},
			"rocker rocker is turned by no rod: give it a link with one end on it and the other on a body that moves"},
		{push, []edit{drop("pushrod"), more("stay", kin.Link, []int{0, 1}, kin.Frame, "rocker")},
			"rocker rocker is turned by no rod: give it a link with one end on it and the other on a body that moves" +
				"; stay leads to the frame, which carries its axis as well, so look whether the axis is on another body (on: upright)"},
		{push, []edit{func(l *kin.Linkage) {
			for i := range l.Members {
				l.Members[i].Soft = l.Members[i].Name == "tie_rod"
			}
		}},
			"the upright has 4 of the 5 constraints that leave it wheel travel alone, so 1 freedom is too many: it is held by lower_arm 2, upper_arm 2; " + gives +
				"; at design the upright is still free, beside its wheel's travel, to turn in steer about the line through lower_ball and upper_ball" +
				"; tie_rod is soft and holds nothing, so take soft out of it if it should"},
		{push, []edit{more("second", kin.Rocker, []int{0, 1}, "lower_arm")},
			"rocker second is turned by no rod: give it a link with one end on it and the other on a body that moves"},
		{push, []edit{more("arm", kin.Arm, []int{0, 1, 2}, kin.Rack, kin.Upright)},
			"arm arm turns on the rack, which slides; its axis has to be on the frame or on another body that turns"},
		{push, []edit{more("arm", kin.Arm, []int{0, 1, 2}, kin.Rack, kin.Frame)},
			"arm arm goes from rack to frame; it has to join the frame or another body to the wheel's carrier"},
		{push, []edit{more("idler", kin.Rocker, []int{0, 1}, kin.Rack), more("rod", kin.Link, []int{2, 3}, kin.Upright, "idler")},
			"rocker idler turns on the rack, which slides; its axis has to be on the frame or on another body that turns"},
		{"steered axle", []edit{drop("tie_rod")},
			"kingpin kingpin is turned by no rod on the right side of the car: give it a link with one end on it and the other on a body that moves"},
		{push, []edit{more("stay", kin.Link, []int{0, 1}, kin.Frame, kin.Rack)},
			"link stay goes from frame to rack and holds nothing that moves"},
		{push, []edit{more("stay", kin.Link, []int{0, 8}, "gearbox", kin.Upright)},
			"link stay has an end on left.gearbox, which is no body of this geometry"},
		{push, []edit{more("spring", kin.Spring, []int{0, 8}, kin.Frame, "hub")},
			"spring spring has an end on left.hub, which is no body of this geometry"},
		{push, []edit{more("spring", kin.Spring, []int{0, 8}, "hub", kin.Frame)},
			"spring spring has an end on left.hub, which is no body of this geometry"},
		{push, []edit{more("spring", kin.Spring, []int{0, 8}, kin.Frame, kin.Frame)},
			"spring spring has both ends on the frame; nothing it measures changes"},
		{five, []edit{more("odd", kin.Strut, []int{0, 2}, kin.Upright, kin.Frame)},
			"strut odd goes from upright to frame; it has to join the frame to the upright"},
		{"three-link axle with Panhard rod", []edit{more("odd", kin.Ball, []int{0}, kin.Frame, kin.Upright)},
			"odd is on upright, but the wheels are on the axle: write axle, or hang the upright on it by a kingpin"},
		{bar, []edit{across("other", kin.Bar, nil, nil, "left.rocker", kin.Frame)},
			"torsion_bar other joins left.rocker and frame; both have to be arms or rockers"},
		{bar, []edit{across("arm", kin.Centre, nil, nil, "rocker")},
			"centre_arm arm stands on rocker, which has to be a torsion_bar"},
	}
	for _, tc := range cases {
		l := layout(t, tc.layout)
		for _, e := range tc.change {
			e(l)
		}
		_, err := kin.Compile(l)
		if err == nil || err.Error() != tc.says {
			t.Errorf("%s:\ngot  %v\nwant %s", tc.layout, err, tc.says)
		}
	}
}

// TestFaultNamesItsMember: an error about one member says which, so that a file can be pointed at.
func TestFaultNamesItsMember(t *testing.T) {
	const push = "pushrod on lower arm"
	for _, tc := range []struct {
		change edit
		member string
	}{
		{drop("pushrod"), "rocker"},
		{more("stay", kin.Link, []int{0, 8}, "gearbox", kin.Upright), "stay"},
		{more("spring", kin.Spring, []int{0, 8}, kin.Frame, "hub"), "spring"},
		{more("arm", kin.Arm, []int{0, 1, 2}, kin.Rack, kin.Upright), "arm"},
		{more("stay", kin.Link, []int{0, 1}, kin.Frame, kin.Rack), "stay"},
		{drop("tie_rod"), ""},
	} {
		l := layout(t, push)
		tc.change(l)
		_, err := kin.Compile(l)
		var f *kin.Fault
		name := ""
		if errors.As(err, &f) {
			name = l.Members[f.Member].Name
		}
		if err == nil || name != tc.member {
			t.Errorf("%v is about %q, want %q", err, name, tc.member)
		}
	}
}

func TestColumnRefuses(t *testing.T) {
	const push, strut, hinge, hArm = "pushrod on lower arm", "strut", "semi-trailing arm", "H-arm"
	cases := []struct{ layout, name, says string }{
		{push, "chamber", "chamber is no measure"},
		{push, "rocker.camber", "camber is a measure of the corner and stands alone, without rocker"},
		{push, "length", "length is a measure of a member: write MEMBER.length"},
		{push, "tie_rod.length", "tie_rod is a link and has no length that changes; how long it is as drawn stands in the check of the geometry, under eye to eye"},
		{push, "tie_rod.bind", "tie_rod is no soft link and keeps its length; bind is measured of a link with soft: true"},
		{hArm, "upper_link.lever_angle", "upper_link works on no arm, rocker or steering axis, so it has no lever and no dead centre"},
		{hArm, "upper_link.dead_centre", "upper_link works on no arm, rocker or steering axis, so it has no lever and no dead centre"},
		{hArm, "upper_link.lever_angle_first", "upper_link works on no arm, rocker or steering axis, so it has no lever and no dead centre"},
		{push, "damper.lever_angle_second", "damper works on an arm, a rocker or a steering axis at one end only; write lever_angle or dead_centre, which are taken there"},
		{push, "damper.closing_left", "damper is given no least length, so nothing says how far it closes: length: {min: ...}"},
		{push, "damper.opening_left", "damper is given no greatest length, so nothing says how far it opens: length: {max: ...}"},
		{push, "damper.stop_crush", "damper is given no length at which its bump stop is met: length: {stop: ...}"},
		{push, "damper.solid_left", "damper is a damper and has no solid_left"},
		{"damper on lower arm", "damper.solid_left", "damper is given no length at which its coils touch: length: {solid: ...}"},
		{push, "shock.length", "no member is called shock"},
		{push, "camber + damper.length", "camber is in deg and damper.length in mm; only measures of one unit can be added"},
		{push, "contact_path_y + toe", "contact_path_y is in mm/mm and toe in deg; only measures of one unit can be added"},
		{push, "camber + nothing", "nothing is no measure"},
		{push, "anti_dive", "anti_dive needs the height of the centre of gravity above the ground: vehicle: {centre_of_gravity: ...}"},
		{push, "anti_squat", "anti_squat is a measure of a rear axle: vehicle: {axle: rear}"},
		{hinge, "anti_dive", "anti_dive is a measure of a front axle, and the vehicle's axle is rear"},
		{strut, "bar.angle", "bar is a torsion_bar and has no angle"},
		{push, "right.body_roll", "body_roll exists once, for both sides; write body_roll"},
		{push, "toe - left.toe", "toe - left.toe names one measure twice; name two different ones, such as right.toe - left.toe"},
		{strut, "left.bar.twist", "bar exists once; write bar.twist without a side"},
		{hinge, "caster", "caster needs a steering axis: two ball joints one above the other, a strut over a ball joint, a kingpin, or a link on the rack"},
	}
	for _, tc := range cases {
		prog, err := kin.Compile(layout(t, tc.layout))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := prog.Column(tc.name); err == nil || err.Error() != tc.says {
			t.Errorf("%s: got %v, want %s", tc.name, err, tc.says)
		}
	}
	// Five links on the rack without a spring show no axis, and with two springs not which is held.
	l := layout(t, "five links")
	drop("damper")(l)
	needs := "caster needs a steering axis, which the length of a spring or damper shows where no two ball joints do: name the member that is held under steering_axis"
	for _, springs := range [][]string{nil, {"first", "second"}} {
		for i, name := range springs {
			more(name, kin.Spring, []int{11 - i, 12}, kin.Upright, kin.Frame)(l)
		}
		prog, err := kin.Compile(l)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := prog.Column("caster"); err == nil || err.Error() != needs {
			t.Errorf("got %v, want %s", err, needs)
		}
	}
	l.Hold = "second"
	prog, err := kin.Compile(l)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := prog.Column("caster"); err != nil {
		t.Error(err)
	}
}

// TestSums: a sum and a difference are what their terms are.
func TestSums(t *testing.T) {
	c := newCorner(t, kintest.Apart())
	got := c.one(7, 3, "toe", "right.toe", "toe + right.toe", "right.toe - toe", "damper.length - right.damper.length", "damper.length", "right.damper.length")
	near(t, "sum", got[2], got[0]+got[1], 1e-12)
	near(t, "difference", got[3], got[1]-got[0], 1e-12)
	near(t, "difference of lengths", got[4], got[5]-got[6], 1e-12)
}
