package kintest

import "trammel/kin"

// Layout is a way to hold and spring a wheel.
type Layout struct {
	Name string
	Link *kin.Linkage
}

// Layouts returns a corner of every arrangement that kin solves, all about the same invented car. Each call
// makes new ones.
func Layouts() []Layout {
	return []Layout{
		{"pushrod on lower arm", Pushrod()},
		{"pushrod on upper arm", rod("upper_arm", [3]float64{-8, 560, 344}, [3]float64{-6, 318, 502}, 452)},
		{"pushrod on upright", rod(kin.Upright, [3]float64{4, 632, 168}, [3]float64{-6, 318, 452}, 418)},
		{"pullrod on upper arm", rod("upper_arm", [3]float64{-8, 572, 345}, [3]float64{-4, 292, 92}, 132)},
		{"damper on lower arm", direct("lower_arm", [3]float64{4, 540, 160})},
		{"damper on upright", direct(kin.Upright, [3]float64{2, 640, 180})},
		{"toe link to lower arm", toeLink()},
		{"rocker driven by rocker", twoRockers()},
		{"steering bell crank", bellCrank()},
		{"five links", fiveLinks()},
	}
}

// wishbones returns two arms and the wheel of Pushrod, without a tie rod.
func wishbones() *Builder {
	b := &Builder{}
	b.Point("lower_front", 165, 230, 150).Point("lower_rear", -150, 245, 142).Point("lower_ball", 6, 655, 138).
		Point("upper_front", 130, 285, 318).Point("upper_rear", -135, 292, 306).Point("upper_ball", -12, 618, 352).
		Point("steering_arm", -104, 641, 186).
		Point("wheel_centre", 0, 690, 252)
	b.Arm("lower_arm", "lower_front", "lower_rear", "lower_ball")
	b.Arm("upper_arm", "upper_front", "upper_rear", "upper_ball")
	b.Wheel("wheel_centre", -1.2, 0.08, 246)
	b.L.Vehicle.Wheelbase = 2350
	return b
}

func (b *Builder) rackTieRod() *Builder {
	return b.Point("rack_end", -92, 232, 190).Link("tie_rod", "rack_end", "steering_arm", kin.Rack, kin.Upright)
}

// rod returns a corner whose rocker, on an axis at height z, is turned by a rod from the body.
func rod(body string, foot, head [3]float64, z float64) *kin.Linkage {
	b := wishbones().rackTieRod()
	b.Point("rod_foot", foot[0], foot[1], foot[2]).Point("rod_head", head[0], head[1], head[2]).
		Point("rocker_front", 52, 262, z).Point("rocker_rear", -58, 258, z+3).
		Point("damper_rocker", -4, 246, z+68).Point("damper_frame", -10, 30, z+44)
	b.Link("rod", "rod_foot", "rod_head", body, "rocker")
	b.Member("rocker", kin.Rocker, []string{"rocker_front", "rocker_rear"}, []string{kin.Frame})
	b.Member("damper", kin.Damper, []string{"damper_rocker", "damper_frame"}, []string{"rocker", kin.Frame})
	return &b.L
}

func direct(body string, foot [3]float64) *kin.Linkage {
	b := wishbones().rackTieRod()
	b.Point("damper_foot", foot[0], foot[1], foot[2]).Point("damper_frame", -10, 400, 520)
	b.Member("damper", kin.Spring, []string{"damper_foot", "damper_frame"}, []string{body, kin.Frame})
	return &b.L
}

// toeLink holds the wheel's toe by a link to the lower arm: its row is coupled to the arm's turning.
func toeLink() *kin.Linkage {
	b := wishbones()
	b.Point("toe_inner", -112, 312, 160)
	b.Link("toe_link", "toe_inner", "steering_arm", "lower_arm", kin.Upright)
	b.Point("damper_foot", 4, 540, 160).Point("damper_frame", -10, 400, 520)
	b.Member("damper", kin.Damper, []string{"damper_frame", "damper_foot"}, []string{kin.Frame, "lower_arm"})
	return &b.L
}

// twoRockers drives a second rocker, on a skew axis, from the first. The second stands first in the list.
func twoRockers() *kin.Linkage {
	b := wishbones().rackTieRod()
	b.Point("pushrod_foot", 4, 590, 158).Point("pushrod_head", -6, 318, 452).
		Point("rocker_front", 52, 262, 418).Point("rocker_rear", -58, 262, 418).
		Point("coupler_outer", -4, 246, 486).Point("coupler_inner", 20, 120, 495).
		Point("second_low", 10, 115, 380).Point("second_high", -40, 120, 392).
		Point("damper_second", -30, 60, 500).Point("damper_frame", -260, 40, 470)
	b.Member("second", kin.Rocker, []string{"second_low", "second_high"}, []string{kin.Frame})
	b.Link("coupler", "coupler_outer", "coupler_inner", "rocker", "second")
	b.Member("rocker", kin.Rocker, []string{"rocker_front", "rocker_rear"}, []string{kin.Frame})
	b.Link("pushrod", "pushrod_foot", "pushrod_head", "lower_arm", "rocker")
	b.Member("damper", kin.Damper, []string{"damper_second", "damper_frame"}, []string{"second", kin.Frame}).
		Stroke(kin.Stroke{Closed: 190, Open: 270, Stop: 215})
	return &b.L
}

// bellCrank steers by a bell crank about a nearly upright axis, which the rack turns by a link.
func bellCrank() *kin.Linkage {
	b := wishbones()
	b.Point("crank_low", -90, 180, 150).Point("crank_high", -84, 182, 230).
		Point("drag_rack", -150, 60, 188).Point("drag_crank", -150, 178, 186).
		Point("tie_inner", -92, 240, 190)
	b.Member("bell_crank", kin.Rocker, []string{"crank_low", "crank_high"}, []string{kin.Frame})
	b.Link("drag_link", "drag_rack", "drag_crank", kin.Rack, "bell_crank")
	b.Link("tie_rod", "tie_inner", "steering_arm", "bell_crank", kin.Upright)
	b.Point("damper_foot", 4, 540, 160).Point("damper_frame", -10, 400, 520)
	b.Member("damper", kin.Damper, []string{"damper_foot", "damper_frame"}, []string{"lower_arm", kin.Frame})
	return &b.L
}

// fiveLinks holds the wheel by five links with ten different ends, one of them on the rack.
func fiveLinks() *kin.Linkage {
	b := &Builder{}
	b.Point("p1", 165, 230, 150).Point("q1", 26, 655, 134).Point("p2", -150, 245, 142).Point("q2", -18, 650, 141).
		Point("p3", 130, 285, 318).Point("q3", 8, 618, 352).Point("p4", -135, 292, 306).Point("q4", -30, 621, 349).
		Point("p5", -92, 232, 190).Point("q5", -104, 641, 186).
		Point("wheel_centre", 0, 690, 252).
		Point("damper_foot", 2, 640, 180).Point("damper_frame", -10, 400, 520)
	for i, from := range []string{kin.Frame, kin.Frame, kin.Frame, kin.Frame, kin.Rack} {
		n := string(rune('1' + i))
		b.Link("link"+n, "p"+n, "q"+n, from, kin.Upright)
	}
	b.Member("damper", kin.Damper, []string{"damper_foot", "damper_frame"}, []string{kin.Upright, kin.Frame})
	b.Wheel("wheel_centre", -1.2, 0.08, 246)
	return &b.L
}
