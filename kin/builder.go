package kin

import "math"

// builder makes the nodes of measures, of one side of the axle at a time. Everything it makes is in coordinates in
// which that side is the left one, so that the same signs hold on both.
type builder struct {
	p     *Program
	g     *graph
	s     int  // 0: the side that was drawn; 1: the other
	half  bool // both sides stand alike: the other side's nodes are the drawn one's
	in    *instance
	rolls bool
	keep  *[]kept
}

// kept is a node whose value later positions look back at.
type kept struct {
	node    ref
	centred bool
}

// remember is the value that a node had at design, or at this wheel travel and roll with the rack centred.
func (b *builder) remember(r ref, centred bool) ref {
	for i, k := range *b.keep {
		if k == (kept{r, centred}) {
			return b.g.leaf(opRemembered, i)
		}
	}
	*b.keep = append(*b.keep, kept{r, centred})
	return b.g.leaf(opRemembered, len(*b.keep)-1)
}

// other returns a builder of the other side.
func (b *builder) other() *builder { o := *b; o.s = 1 - b.s; return &o }

// k is the side whose nodes stand for this side.
func (b *builder) k() int {
	if b.half {
		return 0
	}
	return b.s
}

func (b *builder) flip() bool { return b.k() == 1 }

// carSide is +1 where the side is the car's left.
func (b *builder) carSide() float64 { return b.p.side() * (1 - 2*float64(b.s)) }

func (b *builder) at(e end) ref { return b.p.placeIn(b.g, e, b.flip()) }

// scalar operations, short
func (b *builder) sum(x, y ref) ref   { return b.g.two(opSum, x, y) }
func (b *builder) diff(x, y ref) ref  { return b.g.two(opDiff, x, y) }
func (b *builder) mul(x, y ref) ref   { return b.g.two(opMul, x, y) }
func (b *builder) div(x, y ref) ref   { return b.g.two(opDiv, x, y) }
func (b *builder) dot(x, y ref) ref   { return b.g.two(opDot, x, y) }
func (b *builder) x(v ref) ref        { return b.g.one(opX, v) }
func (b *builder) y(v ref) ref        { return b.g.one(opY, v) }
func (b *builder) z(v ref) ref        { return b.g.one(opZ, v) }
func (b *builder) minus(x ref) ref    { return b.g.times(-1, x) }
func (b *builder) degrees(x ref) ref  { return b.g.times(1/degree, x) }
func (b *builder) slope(x ref) ref    { return b.g.one(opSlope, x) }
func (b *builder) add(v, w ref) ref   { return b.g.two(opAdd, v, w) }
func (b *builder) sub(v, w ref) ref   { return b.g.two(opSub, v, w) }
func (b *builder) times(k, v ref) ref { return b.g.two(opScale, k, v) }
func (b *builder) cross(v, w ref) ref { return b.g.two(opCross, v, w) }
func (b *builder) square(x ref) ref   { return b.mul(x, x) }

// perTravel is the slope of x for a mm of this wheel's travel along the motion.
func (b *builder) perTravel(x ref) ref { return b.div(b.slope(x), b.slope(b.travel())) }

// moving is x where this wheel travels along the motion, and has no value elsewhere.
func (b *builder) moving(x ref) ref {
	v := b.slope(b.travel())
	return b.mul(x, b.div(v, v))
}

func (b *builder) travel() ref { return b.g.leaf(opTravel, b.k()) }

// roll is the body's roll as the car counts it, rad.
func (b *builder) roll() ref { return b.g.times(b.p.side(), b.g.leaf(opRoll, 0)) }

// axis is the car's axis i.
func (b *builder) axis(i int) ref { return b.carAxis(bodyFrame, i) }

// carAxis is the direction that lay along axis i of the car at design, turning with a body.
func (b *builder) carAxis(body, i int) ref {
	if body == bodyRack {
		body = bodyFrame // it does not turn
	}
	return b.direction(body, b.axisIndex(i))
}

// axisIndex is where x, y or z stands in the table of directions.
func (b *builder) axisIndex(i int) int {
	for k, d := range b.p.directions {
		if d.how == axisOf && d.index == i {
			return k
		}
	}
	panic("kin: no axis")
}

// direction is direction d of a body.
func (b *builder) direction(body, d int) ref {
	r := b.p.turnOut(b.g, b.g.onBody(opFixed, body, d), b.p.baseOf(body))
	if b.p.flips(body) != b.flip() && body > bodyRack {
		r = b.g.one(opMirror, r)
	}
	return r
}

// turnOut carries a direction in a body's coordinates out to the car's.
func (p *Program) turnOut(g *graph, r ref, body int) ref {
	for body > bodyRack {
		r = g.carry(opTurn, r, ref(body))
		body = p.baseOf(body)
	}
	return r
}

// flips tells whether a body is kept in mirrored coordinates.
func (p *Program) flips(body int) bool {
	if body >= bodyFollower {
		return p.followers[body-bodyFollower].flip
	}
	return body == bodyRight && !p.axle
}

// turning is the angular velocity of a body along the motion (opTurning) or the rack (opSteering). A mirror reverses
// turns but not the axis that lies in it: the vector is mirrored and reversed.
func (b *builder) turning(o op, body int) ref {
	r := none
	for at := body; at > bodyRack; at = b.p.baseOf(at) {
		w := b.p.turnOut(b.g, b.g.onBody(o, at, 0), b.p.baseOf(at))
		if r == none {
			r = w
		} else {
			r = b.add(r, w)
		}
	}
	if b.p.flips(body) != b.flip() {
		r = b.times(b.g.constant(-1), b.g.one(opMirror, r))
	}
	return r
}

func (b *builder) wheel() *wheelSpec { return &b.p.wheels[b.k()] }

// centre is the wheel's centre.
func (b *builder) centre() ref {
	w := b.wheel()
	return b.at(end{w.body, w.centre, b.p.flips(w.body)})
}

// spin is the wheel's axis, outward.
func (b *builder) spin() ref { return b.direction(b.wheel().body, b.k()) }

// normal is the unit normal of the ground, which turns against the body's roll.
func (b *builder) normal() ref {
	if !b.rolls {
		return b.axis(2)
	}
	phi := b.g.leaf(opRoll, 0)
	side := 1 - 2*float64(b.s)
	return b.add(b.times(b.g.times(side, b.g.one(opSin, phi)), b.axis(1)), b.times(b.g.one(opCos, phi), b.axis(2)))
}

// contact is the contact centre: the wheel's centre and then the loaded radius down the wheel plane's steepest line to
// the ground's normal, −m/|m|, m = n − (n·s)s.
func (b *builder) contact() ref { return b.add(b.centre(), b.arm()) }

func (b *builder) arm() ref {
	n, s := b.normal(), b.spin()
	m := b.sub(n, b.times(b.dot(n, s), s))
	k := b.div(b.g.constant(-b.p.linkage.Wheel.LoadedRadius), b.g.norm(m))
	return b.times(k, m)
}

// fixed is the velocity along the motion of the carrier's own point at the contact.
func (b *builder) fixed() ref {
	arm := b.arm()
	return b.add(b.g.one(opSlopeV, b.centre()), b.cross(b.turning(opTurning, b.wheel().body), arm))
}

// gap is how far the contact centre is above the ground of a rolled body, and its slope with the roll (as the left
// side counts it) while the wheel is held: n·(C − P) − r√(1 − (n·s)²), P on the ground below the middle.
func (b *builder) gap() (gap, floor ref) {
	phi := b.g.leaf(opRoll, 0)
	side := 1 - 2*float64(b.s)
	sn, cs := b.g.one(opSin, phi), b.g.one(opCos, phi)
	n := b.normal()
	dn := b.sub(b.times(b.g.times(side, cs), b.axis(1)), b.times(sn, b.axis(2)))
	s := b.spin()
	ns := b.dot(n, s)
	q := b.g.one(opSqrt, b.diff(b.g.constant(1), b.square(ns)))
	r := b.p.linkage.Wheel.LoadedRadius
	ground := b.sum(b.ground(), b.g.leaf(opLift, 0))
	c := b.centre()
	gap = b.diff(b.diff(b.dot(n, c), b.mul(cs, ground)), b.g.times(r, q))
	floor = b.sum(b.sum(b.dot(dn, c), b.mul(sn, ground)), b.g.times(r, b.div(b.mul(ns, b.dot(dn, s)), q)))
	return gap, floor
}

// ground is the height of the ground at design below the middle of the wheels.
func (b *builder) ground() ref {
	z := b.g.times(0.5, b.sum(b.g.leaf(opDeclared, b.p.wheels[0].declared), b.g.leaf(opDeclared, b.p.wheels[1].declared)))
	w := &b.p.linkage.Wheel
	return b.diff(z, b.g.constant(w.LoadedRadius*math.Cos(w.Camber)))
}

// steering is a point of the steering axis and its direction, as long as it may be.
func (b *builder) steering() (point, along ref, ok bool) {
	p := b.p
	switch a := &p.steering[b.k()]; a.how {
	case axisLine:
		point = b.at(a.ends[0])
		return point, b.sub(b.at(a.ends[1]), point), true
	case axisInstant:
		point, along = b.instantAxis(a)
		return point, along, true
	}
	return none, none, false
}

// instantAxis is the axis about which the carrier turns as the rack moves with a length or an angle held: the twist
// with the rack, plus λ times that with wheel travel.
func (b *builder) instantAxis(a *steeringSpec) (point, along ref) {
	held := b.held(a)
	lambda := b.minus(b.div(b.g.one(opAlong, held), b.slope(held)))
	body := b.wheel().body
	c := b.centre()
	w := b.add(b.turning(opSteering, body), b.times(lambda, b.turning(opTurning, body)))
	v := b.add(b.g.one(opRackV, c), b.times(lambda, b.g.one(opSlopeV, c)))
	point = b.add(c, b.times(b.div(b.g.constant(1), b.dot(w, w)), b.cross(w, v)))
	return point, w
}

// held is what stays while the steering axis is looked for.
func (b *builder) held(a *steeringSpec) ref {
	if a.follow >= 0 {
		return b.p.closes[a.follow]
	}
	return b.g.norm(b.sub(b.at(a.ends[0]), b.at(a.ends[1])))
}

// offsets is how far ahead and how far inboard of a place the steering axis passes at its height above the ground, along
// and across the wheel's ground line.
func (b *builder) offsets(at ref) (ahead, inboard ref) {
	p, k, _ := b.steering()
	s := b.spin()
	if !b.rolls {
		q := b.add(p, b.times(b.div(b.diff(b.z(at), b.z(p)), b.z(k)), k))
		d := b.sub(q, at)
		n := b.g.one(opSqrt, b.sum(b.square(b.x(s)), b.square(b.y(s))))
		ahead = b.div(b.diff(b.mul(b.x(d), b.y(s)), b.mul(b.y(d), b.x(s))), n)
		inboard = b.minus(b.div(b.sum(b.mul(b.x(d), b.x(s)), b.mul(b.y(d), b.y(s))), n))
		return ahead, inboard
	}
	n := b.normal()
	q := b.add(p, b.times(b.div(b.dot(n, b.sub(at, p)), b.dot(n, k)), k))
	d, line := b.sub(q, at), b.cross(s, n)
	ahead = b.div(b.dot(d, line), b.g.norm(line))
	inboard = b.minus(b.div(b.dot(d, s), b.g.norm(line))) // d is level to the ground
	return ahead, inboard
}

// camber, toe: rad
func (b *builder) camber() ref { return b.minus(b.g.one(opAsin, b.z(b.spin()))) }

func (b *builder) groundCamber() ref { return b.minus(b.g.one(opAsin, b.dot(b.normal(), b.spin()))) }

func (b *builder) toe() ref {
	s := b.spin()
	return b.g.one(opAtan, b.div(b.x(s), b.y(s)))
}

func (b *builder) caster() ref {
	_, k, _ := b.steering()
	return b.minus(b.g.one(opAtan, b.div(b.x(k), b.z(k))))
}

func (b *builder) inclination() ref {
	_, k, _ := b.steering()
	return b.minus(b.g.one(opAtan, b.div(b.y(k), b.z(k))))
}

// atDesign returns component i of the contact centre at design.
func (b *builder) atDesign(i int) ref {
	p, w := b.p, &b.p.linkage.Wheel
	place := b.p.placeIn(b.g, end{bodyFrame, b.wheel().declared, !p.axle && b.k() == 1}, b.flip())
	sc, cc := math.Sincos(w.Camber)
	st, ct := math.Sincos(w.Toe)
	// −r m/|m| with m = ẑ − s_z s, s = (st cc, ct cc, −sc), |m| = cc
	off := [3]float64{-w.LoadedRadius * sc * st, -w.LoadedRadius * sc * ct, -w.LoadedRadius * cc}
	return b.sum(b.g.one(opX+op(i), place), b.g.constant(off[i]))
}

// rollCentre is where the two lines from the contact centres to the front-view instant centres meet: the lines are
// square to the velocities of the carriers' own points at the contacts. Lateral from the middle of the contacts, + left,
// and height, in the axes of the ground through both contacts.
func (b *builder) rollCentre() (lateral, height ref) {
	l := *b
	l.s = 0
	r := *l.other()
	p, q := l.contact(), r.contact()
	v, w := l.fixed(), r.fixed()
	ml := b.minus(b.div(b.y(v), b.z(v)))
	mr := b.div(b.y(w), b.z(w)) // in the car's coordinates
	yl, zl, yr, zr := b.y(p), b.z(p), b.minus(b.y(q)), b.z(q)
	// zl + ml (y − yl) = zr + mr (y − yr)
	y := b.g.two(opShare, b.sum(b.diff(zr, zl), b.diff(b.mul(ml, yl), b.mul(mr, yr))), b.diff(ml, mr))
	z := b.sum(zl, b.mul(ml, b.diff(y, yl)))
	dy, dz := b.diff(yl, yr), b.diff(zl, zr)
	n := b.g.one(opSqrt, b.sum(b.square(dy), b.square(dz)))
	c, sn := b.div(dy, n), b.div(dz, n)
	y = b.diff(y, b.g.times(0.5, b.sum(yl, yr)))
	z = b.diff(z, b.g.times(0.5, b.sum(zl, zr)))
	lateral = b.g.times(b.p.side(), b.sum(b.mul(c, y), b.mul(sn, z)))
	height = b.diff(b.mul(c, z), b.mul(sn, y))
	if b.p.axle {
		// In heave an axle only shifts: its roll centre shows in roll alone.
		rolling := b.div(b.slope(b.roll()), b.slope(b.roll()))
		lateral, height = b.mul(lateral, rolling), b.mul(height, rolling)
	}
	return lateral, height
}

// length is the distance between the two ends of an instance.
func (b *builder) length() ref { return b.g.norm(b.sub(b.at(b.in.ends[0]), b.at(b.in.ends[1]))) }
