package kintest

import "trammel/kin"

// Planar is a double wishbone whose pivot axes are parallel to x, so that front view says everything.
// Places are (y, z) in mm. The tie rod lies beside the lower arm, parallel to it and as long, so that the
// wheel neither steers nor leaves its transverse plane.
type Planar struct {
	UpperPivot, UpperBall, LowerPivot, LowerBall [2]float64
	Centre                                       [2]float64
	Radius                                       float64
}

// Builder returns the corner, ready for more members. Camber and toe are 0.
func (p Planar) Builder() *Builder {
	b := &Builder{}
	for _, arm := range []struct {
		name        string
		pivot, ball [2]float64
	}{{"upper", p.UpperPivot, p.UpperBall}, {"lower", p.LowerPivot, p.LowerBall}} {
		b.Point(arm.name+"_rear", -150, arm.pivot[0], arm.pivot[1]).Point(arm.name+"_front", 150, arm.pivot[0], arm.pivot[1]).
			Point(arm.name+"_ball", 0, arm.ball[0], arm.ball[1])
		b.Arm(arm.name+"_arm", arm.name+"_rear", arm.name+"_front", arm.name+"_ball")
	}
	b.Point("rack_end", 120, p.LowerPivot[0], p.LowerPivot[1]).Point("steering_arm", 120, p.LowerBall[0], p.LowerBall[1]).
		Point("wheel_centre", 0, p.Centre[0], p.Centre[1])
	b.Link("tie_rod", "rack_end", "steering_arm", kin.Rack, kin.Upright)
	b.Wheel("wheel_centre", 0, 0, p.Radius)
	return b
}

// EqualArms returns a corner whose two arms are parallel and of the same length: the upright only shifts,
// and every point of it goes round a circle with the arms' radius, 350 mm.
func EqualArms() Planar {
	return Planar{UpperPivot: [2]float64{320, 400}, UpperBall: [2]float64{670, 400}, LowerPivot: [2]float64{320, 180}, LowerBall: [2]float64{670, 180},
		Centre: [2]float64{730, 290}, Radius: 290}
}
