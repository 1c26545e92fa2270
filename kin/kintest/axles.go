package kintest

import "trammel/kin"

// Axles returns axles with members that no wishbone has, all about the same invented car. Each call makes new ones.
func Axles() []Layout {
	return []Layout{
		{"strut", Strut()},
		{"semi-trailing arm", Hinge()},
		{"trailing arm with two lateral links", TrailingArm()},
		{"H-arm", HArm()},
		{"three-link axle with Panhard rod", ThreeLink()},
		{"axle with Watt linkage", WattAxle()},
		{"steered axle", SteeredAxle()},
		{"rocker on the lower arm", RockerOnArm()},
		{"four parallel links and a soft Panhard rod", FourLink()},
		{"bar and centre spring", CentreSpring()},
		{"other side drawn apart", Apart()},
		{"sides held and sprung across", Crossed()},
		{"dampers on an idler across", Idler()},
		{"corner with the room of its parts", Roomy()},
		{"steered axle with the room of its parts", RoomyAxle()},
	}
}

// Across adds a member that exists once. A point or body that both sides have is named with its side.
func (b *Builder) Across(name string, kind kin.Kind, points, bodies []string) *Builder {
	m := kin.Member{Name: name, Kind: kind, Bodies: bodies, Across: true}
	for _, p := range points {
		side := kin.Once
		for _, s := range []kin.Side{kin.Left, kin.Right} {
			if n := len(s.String()) + 1; len(p) > n && p[:n] == s.String()+"." {
				side, p = s, p[n:]
			}
		}
		i, ok := b.index[p]
		if !ok {
			panic("kintest: no point " + p)
		}
		m.Points = append(m.Points, i)
		m.Sides = append(m.Sides, side)
	}
	b.L.Members = append(b.L.Members, m)
	return b
}

// Soft marks the last member soft.
func (b *Builder) Soft() *Builder {
	b.L.Members[len(b.L.Members)-1].Soft = true
	return b
}

// Stroke says between which lengths the last member works.
func (b *Builder) Stroke(stroke kin.Stroke) *Builder {
	b.L.Members[len(b.L.Members)-1].Stroke = stroke
	return b
}

// Vehicle gives the car its measures.
func (b *Builder) Vehicle(rear bool) *Builder {
	b.L.Vehicle = kin.Vehicle{Wheelbase: 2350, CentreZ: 410, Rear: rear, BrakeShare: 0.62, DriveShare: 1}
	return b
}

func two(a, b string) []string { return []string{a, b} }

// Strut is a front corner with a strut over a lower arm.
func Strut() *kin.Linkage {
	b := &Builder{}
	b.Point("lower_front", 165, 330, 190).Point("lower_rear", -150, 345, 186).Point("lower_ball", 6, 655, 178).
		Point("top", -28, 560, 690).Point("foot", -8, 612, 330).
		Point("rack_end", -112, 332, 222).Point("steering_arm", -124, 641, 214).
		Point("bar_in", 260, 300, 240).Point("bar_out", 260, 560, 240).Point("bar_end", 90, 580, 246).Point("drop", 84, 606, 420).
		Point("wheel_centre", 0, 720, 282)
	b.Arm("lower_arm", "lower_front", "lower_rear", "lower_ball")
	b.Member("strut", kin.Strut, two("top", "foot"), two(kin.Frame, kin.Upright)).Stroke(kin.Stroke{Closed: 290, Open: 450, Stop: 345})
	b.Link("tie_rod", "rack_end", "steering_arm", kin.Rack, kin.Upright)
	b.Member("bar_arm", kin.Rocker, two("bar_in", "bar_out"), []string{kin.Frame})
	b.Link("drop_link", "bar_end", "drop", "bar_arm", kin.Upright)
	b.Across("bar", kin.Bar, nil, two("left.bar_arm", "right.bar_arm"))
	b.Wheel("wheel_centre", -0.8, 0.1, 286).Vehicle(false)
	return &b.L
}

// Hinge is a rear corner on a semi-trailing arm, rigid with its upright, with a drive shaft.
func Hinge() *kin.Linkage {
	b := &Builder{}
	b.Point("inner", 420, 180, 232).Point("outer", 350, 560, 226).
		Point("spring_foot", 40, 560, 220).Point("spring_top", 30, 520, 560).
		Point("shaft_inner", 10, 110, 300).Point("shaft_outer", 0, 640, 290).
		Point("wheel_centre", 0, 720, 282)
	b.Member("semi", kin.Hinge, two("inner", "outer"), two(kin.Frame, kin.Upright))
	b.Member("spring", kin.Spring, two("spring_foot", "spring_top"), two(kin.Upright, kin.Frame))
	b.Member("shaft", kin.Shaft, two("shaft_inner", "shaft_outer"), two(kin.Frame, kin.Upright))
	b.Wheel("wheel_centre", -1, 0.1, 286).Vehicle(true)
	return &b.L
}

// TrailingArm is a rear corner of an off-road car: a long trailing arm on a ball, two lateral links behind, a drive shaft,
// and a limit strap.
func TrailingArm() *kin.Linkage {
	b := &Builder{}
	b.Point("arm_front", 960, 420, 410).
		Point("upper_inner", -120, 150, 480).Point("upper_outer", -130, 690, 470).
		Point("lower_inner", -118, 150, 330).Point("lower_outer", -128, 695, 300).
		Point("damper_foot", 220, 560, 420).Point("damper_top", 160, 470, 980).
		Point("shaft_inner", -8, 140, 420).Point("shaft_outer", 0, 720, 392).
		Point("strap_top", 150, 500, 760).
		Point("wheel_centre", 0, 860, 390)
	b.Member("trailing_arm", kin.Ball, []string{"arm_front"}, two(kin.Frame, kin.Upright))
	b.Link("upper_link", "upper_inner", "upper_outer", kin.Frame, kin.Upright)
	b.Link("lower_link", "lower_inner", "lower_outer", kin.Frame, kin.Upright)
	b.Member("damper", kin.Damper, two("damper_foot", "damper_top"), two(kin.Upright, kin.Frame))
	b.Member("shaft", kin.Shaft, two("shaft_inner", "shaft_outer"), two(kin.Frame, kin.Upright))
	b.Member("strap", kin.Distance, two("strap_top", "damper_foot"), two(kin.Frame, kin.Upright)).Stroke(kin.Stroke{Open: 470})
	b.Wheel("wheel_centre", 0, 0, 400).Vehicle(true)
	return &b.L
}

// HArm is a rear corner on a lower H-arm and an upper link.
func HArm() *kin.Linkage {
	b := &Builder{}
	b.Point("lower_front", 210, 210, 160).Point("lower_rear", -160, 222, 152).
		Point("ball_front", 120, 640, 148).Point("ball_rear", -110, 648, 142).
		Point("upper_inner", -20, 280, 330).Point("upper_outer", -10, 610, 350).
		Point("damper_foot", 0, 560, 162).Point("damper_top", 10, 420, 520).
		Point("wheel_centre", 0, 700, 256)
	b.Member("h_arm", kin.HArm, []string{"lower_front", "lower_rear", "ball_front", "ball_rear"}, two(kin.Frame, kin.Upright))
	b.Link("upper_link", "upper_inner", "upper_outer", kin.Frame, kin.Upright)
	b.Member("damper", kin.Damper, two("damper_foot", "damper_top"), two("h_arm", kin.Frame))
	b.Wheel("wheel_centre", -1, 0.2, 252).Vehicle(true)
	return &b.L
}

func (b *Builder) axleLinks() *Builder {
	b.Point("lower_frame", 720, 410, 330).Point("lower_axle", 30, 480, 300).
		Point("upper_frame", 520, 40, 520).Point("upper_axle", 20, 60, 540).
		Point("spring_axle", 0, 520, 420).Point("spring_top", -10, 480, 760).
		Point("wheel_centre", 0, 760, 390)
	b.Link("lower_link", "lower_frame", "lower_axle", kin.Frame, kin.Axle)
	b.Across("upper_link", kin.Link, two("upper_frame", "upper_axle"), two(kin.Frame, kin.Axle))
	b.Member("spring", kin.Spring, two("spring_axle", "spring_top"), two(kin.Axle, kin.Frame))
	return b
}

// ThreeLink is a driven rear axle on two lower links, one upper link off the middle and a Panhard rod.
func ThreeLink() *kin.Linkage {
	b := (&Builder{}).axleLinks()
	b.Point("panhard_frame", -110, 430, 400).Point("panhard_axle", -120, -470, 380).
		Point("prop_frame", 700, 0, 420).Point("prop_axle", 160, 20, 410)
	b.Across("panhard", kin.Link, two("panhard_frame", "panhard_axle"), two(kin.Frame, kin.Axle))
	b.Wheel("wheel_centre", 0, 0, 400).Vehicle(true)
	b.L.Vehicle.LiveAxle = true
	return &b.L
}

// FourLink is an axle on two pairs of parallel links of equal length and a Panhard rod that is marked soft, as the four
// links and the rod would hold it five times.
func FourLink() *kin.Linkage {
	b := &Builder{}
	b.Point("lower_frame", 620, 410, 300).Point("lower_axle", 20, 440, 300).
		Point("upper_frame", 560, 250, 470).Point("upper_axle", -40, 480, 480).
		Point("panhard_frame", -110, 430, 400).Point("panhard_axle", -120, -470, 380).
		Point("wheel_centre", 0, 760, 390)
	b.Link("lower_link", "lower_frame", "lower_axle", kin.Frame, kin.Axle)
	b.Link("upper_link", "upper_frame", "upper_axle", kin.Frame, kin.Axle)
	b.Across("panhard", kin.Link, two("panhard_frame", "panhard_axle"), two(kin.Frame, kin.Axle)).Soft()
	b.Wheel("wheel_centre", 0, 0, 400).Vehicle(true)
	return &b.L
}

// WattAxle is the same axle with a Watt linkage: its crank turns on the axle.
func WattAxle() *kin.Linkage {
	b := (&Builder{}).axleLinks()
	b.Point("crank_front", -90, 0, 400).Point("crank_rear", -130, 5, 400).
		Point("crank_up", -112, 10, 470).Point("crank_down", -108, -8, 332).
		Point("watt_left", -116, 470, 476).Point("watt_right", -112, -480, 326)
	b.Across("crank", kin.Rocker, two("crank_front", "crank_rear"), []string{kin.Axle})
	b.Across("watt_upper", kin.Link, two("watt_left", "crank_up"), two(kin.Frame, "crank"))
	b.Across("watt_lower", kin.Link, two("watt_right", "crank_down"), two(kin.Frame, "crank"))
	b.Wheel("wheel_centre", 0, 0, 400).Vehicle(true)
	b.L.Vehicle.LiveAxle = true
	return &b.L
}

// SteeredAxle is a front axle with kingpins, a drag link from the rack to the left upright and a tie rod between them.
func SteeredAxle() *kin.Linkage {
	b := (&Builder{}).axleLinks()
	b.Point("panhard_frame", 110, 430, 400).Point("panhard_axle", 120, -470, 380).
		Point("pin_low", 12, 640, 310).Point("pin_high", -14, 610, 470).
		Point("steering_arm", -160, 580, 372).Point("drag_arm", 150, 600, 420).Point("drag_rack", 170, -120, 440)
	b.Across("panhard", kin.Link, two("panhard_frame", "panhard_axle"), two(kin.Frame, kin.Axle))
	b.Member("kingpin", kin.Kingpin, two("pin_low", "pin_high"), two(kin.Axle, kin.Upright))
	b.Across("tie_rod", kin.Link, two("left.steering_arm", "right.steering_arm"), two("left.upright", "right.upright"))
	b.Across("drag_link", kin.Link, two("drag_rack", "left.drag_arm"), two(kin.Rack, "left.upright"))
	b.Wheel("wheel_centre", 0.5, 0.1, 400).Vehicle(false)
	return &b.L
}

// CentreSpring is Pushrod's front with rockers about one lateral line, joined by a torsion bar; an arm fixed to the
// bar's middle works a heave spring, and a roll damper joins the rockers.
func CentreSpring() *kin.Linkage {
	b := wishbones().rackTieRod()
	b.Point("pushrod_foot", 4, 590, 158).Point("pushrod_head", 130, 330, 430).
		Point("rocker_in", 10, 180, 420).Point("rocker_out", 10, 330, 420).
		Point("roll_pickup", 60, 210, 490).
		Point("heave_arm", 0, 0, 500).Point("heave_frame", -190, 0, 470)
	b.Link("pushrod", "pushrod_foot", "pushrod_head", "lower_arm", "rocker")
	b.Member("rocker", kin.Rocker, two("rocker_in", "rocker_out"), []string{kin.Frame})
	b.Across("bar", kin.Bar, nil, two("left.rocker", "right.rocker"))
	b.Across("centre_arm", kin.Centre, nil, []string{"bar"})
	b.Across("heave_spring", kin.Spring, two("heave_arm", "heave_frame"), two("centre_arm", kin.Frame)).Stroke(kin.Stroke{Solid: 131})
	b.Across("roll_damper", kin.Damper, two("left.roll_pickup", "right.roll_pickup"), two("left.rocker", "right.rocker"))
	b.Vehicle(false)
	return &b.L
}

// Crossed is a front corner whose tie rods and pushrods are drawn across, another for each side: the two sides differ
// though every point is the mirror image of its opposite.
func Crossed() *kin.Linkage {
	b := wishbones()
	b.Point("left_end", -92, 232, 190).Point("right_end", -78, -228, 199).
		Point("pushrod_foot", 4, 590, 158).Point("right_foot", 9, 586, 161).Point("pushrod_head", -6, 318, 452).
		Point("rocker_front", 52, 262, 418).Point("rocker_rear", -58, 262, 418).
		Point("damper_rocker", -4, 246, 486).Point("damper_frame", -10, 30, 462)
	b.Across("left_tie", kin.Link, two("left_end", "left.steering_arm"), two(kin.Rack, "left.upright"))
	b.Across("right_tie", kin.Link, two("right_end", "right.steering_arm"), two(kin.Rack, "right.upright"))
	b.Member("rocker", kin.Rocker, two("rocker_front", "rocker_rear"), []string{kin.Frame})
	b.Across("left_rod", kin.Link, two("left.pushrod_foot", "left.pushrod_head"), two("left.lower_arm", "left.rocker"))
	b.Across("right_rod", kin.Link, two("right.right_foot", "right.pushrod_head"), two("right.lower_arm", "right.rocker"))
	b.Member("damper", kin.Damper, two("damper_rocker", "damper_frame"), two("rocker", kin.Frame))
	return &b.L
}

// Idler is a front corner whose dampers stand on an idler across that the left arm turns: the wheels mirror each other
// and the dampers do not.
func Idler() *kin.Linkage {
	b := wishbones().rackTieRod()
	b.Point("idler_low", -200, 10, 300).Point("idler_high", -200, 10, 400).Point("idler_foot", -150, 480, 165).Point("idler_head", -230, 40, 350).
		Point("damper_arm", 4, 540, 160).Point("damper_idler", -170, 60, 350)
	b.Across("idler", kin.Rocker, two("idler_low", "idler_high"), []string{kin.Frame})
	b.Across("idler_rod", kin.Link, two("left.idler_foot", "idler_head"), two("left.lower_arm", "idler"))
	b.Member("damper", kin.Damper, two("damper_arm", "damper_idler"), two("lower_arm", "idler"))
	return &b.L
}

// RockerOnArm is Pushrod's front with a rocker that turns on the lower arm: a rod from the frame turns it, and a second one
// on it, from the lower arm, turns another.
func RockerOnArm() *kin.Linkage {
	b := wishbones().rackTieRod()
	b.Point("rocker_front", 60, 480, 190).Point("rocker_rear", -55, 484, 186).
		Point("stay_frame", 10, 300, 250).Point("stay_rocker", 8, 452, 258).
		Point("second_low", 30, 470, 250).Point("second_high", 22, 480, 300).
		Point("drag_arm", -40, 600, 180).Point("drag_second", -40, 490, 280).
		Point("damper_rocker", 40, 440, 300).Point("damper_frame", 30, 260, 420)
	b.Member("rocker", kin.Rocker, two("rocker_front", "rocker_rear"), []string{"lower_arm"})
	b.Link("stay", "stay_frame", "stay_rocker", kin.Frame, "rocker")
	b.Member("second", kin.Rocker, two("second_low", "second_high"), []string{"rocker"})
	b.Link("drag", "drag_arm", "drag_second", "lower_arm", "second")
	b.Member("damper", kin.Damper, two("damper_rocker", "damper_frame"), two("second", kin.Frame))
	return &b.L
}

// Apart is Pushrod with some points of the right side that are not the mirror image of the left.
func Apart() *kin.Linkage {
	l := Pushrod()
	l.Opposite = make([]int, len(l.Points))
	for i := range l.Opposite {
		l.Opposite[i] = -1
	}
	for _, m := range []struct {
		name string
		by   [3]float64
	}{{"lower_front", [3]float64{4, -3, 2}}, {"upper_ball", [3]float64{-3, 5, 4}}, {"damper_frame", [3]float64{0, 12, -20}}} {
		for i := range l.Opposite {
			if l.Points[i].Name == m.name {
				at := l.Points[i].At
				at.X, at.Y, at.Z = at.X+m.by[0], -at.Y+m.by[1], at.Z+m.by[2]
				l.Opposite[i] = len(l.Points)
				l.Points = append(l.Points, kin.Point{Name: "opposite." + m.name, At: at})
			}
		}
	}
	for len(l.Opposite) < len(l.Points) {
		l.Opposite = append(l.Opposite, -1)
	}
	l.RackAxis.Y, l.RackAxis.Z = 1, 0.05
	return l
}
