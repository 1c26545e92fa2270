package kintest

import (
	"trammel/kin"

	"gonum.org/v1/gonum/spatial/r3"
)

// Joints returns linkages with bearings that tilt, on every kind of body: fixed and auto, spherical, in line with a rod, and rod ends.
func Joints() []Layout {
	return []Layout{
		{"pushrod with joints", JointedPushrod()},
		{"rocker on the lower arm with joints", jointedRockers()},
		{"steered axle with joints", jointedAxle()},
		{"bar and centre spring with joints", jointedCentre()},
	}
}

// Spherical adds a spherical bearing whose housing is on one body and whose bolt is on another. A bore of zero is auto.
func (b *Builder) Spherical(name, point, housing, boltOn string, bolt, bore r3.Vec) *Builder {
	b.Member(name, kin.Joint, []string{point}, []string{housing})
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{Bolt: bolt, BoltBody: boltOn, Housing: bore}
	return b
}

// RodEnd adds a rod end at a point of a body, of a rod that goes to another. A bolt of zero is auto.
func (b *Builder) RodEnd(name, point, far, body, farBody string, bolt r3.Vec) *Builder {
	b.Member(name, kin.Joint, []string{point, far}, []string{body, farBody})
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{RodEnd: true, Bolt: bolt}
	return b
}

// InLine adds a spherical bearing at a point of a body, whose bolt is a rod that goes to another. A bore of zero is auto.
func (b *Builder) InLine(name, point, far, body, farBody string, bore r3.Vec) *Builder {
	b.Member(name, kin.Joint, []string{point, far}, []string{body, farBody})
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{InLine: true, Housing: bore}
	return b
}

// With goes on with a linkage.
func With(l *kin.Linkage) *Builder {
	b := &Builder{L: *l, index: map[string]int{}}
	for i, p := range l.Points {
		b.index[p.Name] = i
	}
	return b
}

func axis(x, y, z float64) r3.Vec { return r3.Vec{X: x, Y: y, Z: z} }

var auto = r3.Vec{}

// JointedPushrod is Pushrod with the bearings of its arms, tie rod, pushrod and damper.
func JointedPushrod() *kin.Linkage {
	b := With(Pushrod())
	b.Spherical("lower_joint", "lower_ball", kin.Upright, "lower_arm", axis(0.05, 0.1, 1), auto)
	b.Spherical("upper_joint", "upper_ball", kin.Upright, "upper_arm", axis(0.1, 0.2, 1), axis(-0.1, 0.3, 1))
	b.Spherical("lower_pivot", "lower_front", "lower_arm", kin.Frame, axis(1, 0.04, 0.02), axis(1, -0.05, 0.1))
	b.Spherical("damper_top", "damper_frame", kin.Frame, "rocker", axis(1, 0.2, 0.3), auto)
	b.RodEnd("tie_inner", "rack_end", "steering_arm", kin.Rack, kin.Upright, auto)
	b.RodEnd("tie_outer", "steering_arm", "rack_end", kin.Upright, kin.Rack, axis(0.1, 0.2, 1))
	b.RodEnd("pushrod_top", "pushrod_head", "pushrod_foot", "rocker", "lower_arm", axis(1, 0.1, 0.2))
	b.RodEnd("pushrod_low", "pushrod_foot", "pushrod_head", "lower_arm", "rocker", auto)
	b.InLine("tie_ball", "rack_end", "steering_arm", kin.Rack, kin.Upright, axis(0.1, 1, 0.05))
	b.InLine("tie_stud", "steering_arm", "rack_end", kin.Upright, kin.Rack, auto)
	b.InLine("pushrod_ball", "pushrod_head", "pushrod_foot", "rocker", "lower_arm", axis(0.1, 0.5, -1))
	return &b.L
}

func jointedRockers() *kin.Linkage {
	b := With(RockerOnArm())
	b.RodEnd("drag_top", "drag_second", "drag_arm", "second", "lower_arm", axis(0.2, 0.1, 1))
	b.RodEnd("drag_low", "drag_arm", "drag_second", "lower_arm", "second", auto)
	b.Spherical("second_joint", "damper_rocker", "second", "rocker", axis(1, 0.1, 0.1), auto)
	b.InLine("drag_ball", "drag_second", "drag_arm", "second", "lower_arm", auto)
	b.Spherical("stay_joint", "stay_rocker", "rocker", kin.Upright, axis(1, 0.3, 0.1), axis(0.8, 0.1, 0.2))
	return &b.L
}

func jointedAxle() *kin.Linkage {
	b := With(SteeredAxle())
	b.RodEnd("lower_front", "lower_frame", "lower_axle", kin.Frame, kin.Axle, axis(0.1, 1, 0.05))
	b.RodEnd("lower_rear", "lower_axle", "lower_frame", kin.Axle, kin.Frame, auto)
	b.Spherical("pin_joint", "pin_low", kin.Upright, kin.Axle, axis(0.1, 0.1, 1), auto)
	b.Across("rod_left", kin.Joint, two("left.steering_arm", "right.steering_arm"), two("left.upright", "right.upright"))
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{RodEnd: true}
	b.Across("rod_right", kin.Joint, two("right.steering_arm", "left.steering_arm"), two("right.upright", "left.upright"))
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{RodEnd: true, Bolt: axis(0.1, 0.2, 1)}
	b.Across("rod_ball", kin.Joint, two("right.steering_arm", "left.steering_arm"), two("right.upright", "left.upright"))
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{InLine: true, Housing: axis(0.2, 1, 0.1)}
	b.InLine("lower_ball", "lower_axle", "lower_frame", kin.Axle, kin.Frame, axis(1, 0.1, 0.2))
	b.Across("panhard_joint", kin.Joint, []string{"panhard_axle"}, []string{kin.Axle})
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{BoltBody: kin.Frame, Bolt: axis(1, 0.1, 0), Housing: axis(1, 0.2, 0.1)}
	return &b.L
}

func jointedCentre() *kin.Linkage {
	b := With(CentreSpring())
	b.Across("heave_joint", kin.Joint, two("heave_arm", "heave_frame"), two("centre_arm", kin.Frame))
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{RodEnd: true, Bolt: axis(0.1, 1, 0.3)}
	b.Across("heave_ball", kin.Joint, two("heave_frame", "heave_arm"), two(kin.Frame, "centre_arm"))
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{InLine: true}
	b.Across("roll_joint", kin.Joint, two("right.roll_pickup", "left.roll_pickup"), two("right.rocker", "left.rocker"))
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{RodEnd: true}
	b.Across("cross_joint", kin.Joint, []string{"right.roll_pickup"}, []string{"right.rocker"})
	b.L.Members[len(b.L.Members)-1].Bearing = &kin.Bearing{BoltBody: "left.rocker", Bolt: axis(0.2, 0.4, 1), Housing: axis(0.1, -0.2, 1)}
	return &b.L
}

// Found gives every joint of a linkage whose axis is to be found one that leaves it some tilt: tests have no motions to find
// a better one from.
func Found(l *kin.Linkage, s *kin.State) {
	for i := range l.Members {
		if b := l.Members[i].Bearing; b != nil && b.Auto() {
			v := FoundAxis(l, i)
			if l.Right && l.Members[i].Across {
				v.Y = -v.Y // its y is the car's
			}
			s.SetAxis(i, v)
		}
	}
}

// FoundAxis is what Found gives member i, of any length.
func FoundAxis(l *kin.Linkage, i int) r3.Vec {
	b := l.Members[i].Bearing
	if b.RodEnd || b.InLine {
		return axis(0.9, 0.2, 0.5)
	}
	return r3.Add(b.Bolt, axis(0.1, -0.3, 0.2))
}
